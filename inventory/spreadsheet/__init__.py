"""The stock as a workbook: slabs, a summary in live formulas, and the assumptions it rests on."""
