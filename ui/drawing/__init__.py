"""A layout drawn: pictures, printable sheets, files at true scale, tables. Values in, bytes and text out."""
