"""Files in and out: sheets, tables and exports."""
