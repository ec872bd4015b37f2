"""What programs read: data files, feed, sitemap and linked data of one archive."""

from builder.exports.build import ExportInput, Exports, Remember, make_always, make_exports
from builder.exports.dates import changed_days
from builder.exports.files import DataFile
from builder.exports.pagelist import Listed, page_list_files
from builder.exports.preview import PreviewPicture

__all__ = [
    "DataFile",
    "ExportInput",
    "Exports",
    "Listed",
    "PreviewPicture",
    "Remember",
    "changed_days",
    "make_always",
    "make_exports",
    "page_list_files",
]
