"""Reads tables, parted by empty lines, of one CSV file with Python's own reader.

Standard input: a JSON object with `path`. Standard output: a JSON object, for each table (the first cell of its
head) a list of its rows as objects of texts.
"""

import csv
import json
import sys

tables, head = {}, None
with open(json.load(sys.stdin)["path"], newline="", encoding="utf-8") as file:
    for row in csv.reader(file):
        if not row:
            head = None
        elif head is None:
            head = row
            tables[head[0]] = []
        else:
            assert len(row) == len(head), row
            tables[head[0]].append(dict(zip(head, row)))
json.dump(tables, sys.stdout)
