"""Machine interfaces: the workbook first."""
