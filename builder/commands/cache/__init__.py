"""The cache: what was made from the same content before is not made again."""

from builder.commands.cache.cache import Cache, CachedRun, open_cache

__all__ = ["Cache", "CachedRun", "open_cache"]
