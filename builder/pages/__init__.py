"""The pages of the site: a module for each kind of page, and the plan that gives every address what makes its page."""

from builder.pages.page import Download, Page, Preview
from builder.pages.site_input import Extras, SiteInput
from builder.pages.site_plan import Site, SitePlan, site_plan

__all__ = ["Download", "Extras", "Page", "Preview", "Site", "SiteInput", "SitePlan", "site_plan"]
