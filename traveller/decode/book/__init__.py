"""A workbook's bytes: zips, CSV tables, XLSX sheets and the pictures of parts. Read in the child, by `kinds/book`."""
