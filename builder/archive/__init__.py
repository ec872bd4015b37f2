"""What a tester writes: YAML with places, models of it, every problem at once; nothing outside the archive is read."""

from builder.archive.catalogue import json_schema
from builder.archive.loading import Loaded, load_archive, load_sound_parts, why_not
from builder.archive.yaml_text import Json, Trail, YamlDoc, load_yaml, parse_yaml
from builder.core.files import Entry, content_dir, file_exists, list_folder, read_bytes, themes_dir

__all__ = [
    "Entry",
    "Json",
    "Loaded",
    "Trail",
    "YamlDoc",
    "content_dir",
    "file_exists",
    "json_schema",
    "list_folder",
    "load_archive",
    "load_sound_parts",
    "load_yaml",
    "parse_yaml",
    "read_bytes",
    "themes_dir",
    "why_not",
]
