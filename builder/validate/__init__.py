"""Raw values to models, with every problem at once in this project's words."""

from builder.validate.archive import Loaded, load_archive, load_sound_parts, why_not
from builder.validate.schema import json_schema

__all__ = ["Loaded", "json_schema", "load_archive", "load_sound_parts", "why_not"]
