"""Writers of one report: text, page, sheet, SARIF, JUnit. They lay out what the document says and compute nothing."""
