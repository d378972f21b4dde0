"""Writes the schema files anew."""

from audit.exchange import schema, stock

for each in (schema, stock):
    each.FILE.write_text(each.text(), encoding="utf-8")
    print(f"written: {each.FILE}")
