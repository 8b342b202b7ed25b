"""Reads a book with duckdb, pandas and polars and prints what each of them found as JSON.

Exit code 3 if one of the packages is missing.
"""

import json
import pathlib
import struct
import sys

try:
    import duckdb
    import pandas
    import polars
    import pyarrow  # noqa: F401  (the reader behind pandas)
except ImportError as error:
    print(f"missing: {error}", file=sys.stderr)
    sys.exit(3)


def bits(values):
    return [struct.pack(">d", v).hex() for v in sorted(values)]


def summary(rows):
    """rows: dicts with machine, machine_id, date, visit_date, cylinder, deviation_kpa, hours."""
    for r in rows:
        assert str(r["machine"]) == r["machine_id"], (r["machine"], r["machine_id"])
        assert str(r["date"])[:10] == r["visit_date"], (r["date"], r["visit_date"])
    return {
        "rows": len(rows),
        "machines": sorted({r["machine_id"] for r in rows}),
        "dates": sorted({r["visit_date"] for r in rows}),
        "cylinder_2": bits(r["deviation_kpa"] for r in rows if r["cylinder"] == 2),
        "hours": len({(r["machine_id"], r["visit_date"], r["hours"]) for r in rows}),
    }


def main():
    book = pathlib.Path(sys.argv[1])
    glob = str(book / "machine=*" / "date=*" / "visit-*.parquet")
    with_duckdb = duckdb.sql(f"select * from read_parquet('{glob}', hive_partitioning = true)")
    names = with_duckdb.columns
    print(
        json.dumps(
            {
                "duckdb": summary([dict(zip(names, row)) for row in with_duckdb.fetchall()]),
                "pandas": summary(pandas.read_parquet(book).to_dict("records")),
                "polars": summary(polars.read_parquet(glob, hive_partitioning=True).to_dicts()),
            }
        )
    )


main()
