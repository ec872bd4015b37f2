"""The plan of the site: pages and what each is made from."""

from builder.pages.page import Download, Page, Preview
from builder.pages.plan import site_plan
from builder.pages.site_input import Extras, Site, SiteInput, SitePlan

__all__ = ["Download", "Extras", "Page", "Preview", "Site", "SiteInput", "SitePlan", "site_plan"]
