"""The live preview: the site on loopback, made anew at every change, and the page reloaded."""

from builder.commands.preview.serve import Preview, Said, preview_site

__all__ = ["Preview", "Said", "preview_site"]
