"""Sheets in and out: files of a spreadsheet, read with care and written safely. No Django here."""
