"""The plan of the site: pages and what each is made from."""

from builder.pages.kinds import Download, Extras, Page, Preview, Site, SiteInput, SitePlan
from builder.pages.plan import site_plan

__all__ = ["Download", "Extras", "Page", "Preview", "Site", "SiteInput", "SitePlan", "site_plan"]
