"""The report as one self-contained HTML page: works from disk, asks nothing of any network, prints."""

from worker.present.page.page import report_page

__all__ = ["report_page"]
