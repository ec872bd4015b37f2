"""The files of `public/`: pages by a theme, data files, feed and sitemap, preview pictures and photos."""

from builder.site.read_words import read_words
from builder.site.write_site import SiteRenderer, words_problems

__all__ = ["SiteRenderer", "read_words", "words_problems"]
