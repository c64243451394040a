"""The report: one file that a browser opens without a network, and the live page that shares its section.

Nothing is imported here. `annulus.present.report.page.report_page` makes the report.
"""
