"""Files of an archive as bytes and as raw values with their places; nothing outside the archive is read."""

from builder.sources.documents import Trail, YamlDoc, load_yaml, parse_yaml
from builder.sources.files import Entry, content_dir, file_exists, list_folder, read_bytes, themes_dir
from builder.sources.scalars import Json

__all__ = [
    "Entry",
    "Json",
    "Trail",
    "YamlDoc",
    "content_dir",
    "file_exists",
    "list_folder",
    "load_yaml",
    "parse_yaml",
    "read_bytes",
    "themes_dir",
]
