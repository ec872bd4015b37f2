"""Raw values to models, with every problem at once in this project's words."""

from builder.validate.archive import Loaded, load_archive, load_sound_parts

__all__ = ["Loaded", "load_archive", "load_sound_parts"]
