"""What a tester writes: YAML with places, models of it, every problem at once; nothing outside the archive is read."""

from builder.archive.catalogue import json_schema
from builder.archive.loading import Loaded, load_archive, load_sound_parts, why_not
from builder.archive.yaml_text import YamlDoc, load_yaml, parse_yaml

__all__ = ["Loaded", "YamlDoc", "json_schema", "load_archive", "load_sound_parts", "load_yaml", "parse_yaml", "why_not"]
