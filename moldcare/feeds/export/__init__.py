"""Lists on their way out: as CSV and as a workbook, without anything that a spreadsheet runs."""
