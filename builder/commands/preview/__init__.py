"""The live preview: the site on loopback, made anew at every change, and the page reloaded."""

from builder.commands.preview.serve import Message, Preview, preview_site

__all__ = ["Message", "Preview", "preview_site"]
