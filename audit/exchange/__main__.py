"""Writes the schema file anew."""

from audit.exchange.schema import FILE, text

FILE.write_text(text(), encoding="utf-8")
print(f"written: {FILE}")
