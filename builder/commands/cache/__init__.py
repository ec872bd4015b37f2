"""What was made before is kept under the content of everything it was made from."""

from builder.commands.cache.cache import Kept, KeptRun, kept_beside

__all__ = ["Kept", "KeptRun", "kept_beside"]
