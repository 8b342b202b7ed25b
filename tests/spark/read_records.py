"""Prints the records below a folder as JSON lines, read with the glob that the papers name by an engine that is not Spark.

Exit code 3 if a package is missing.
"""

import json
import sys

try:
    import duckdb
    import pyspark
except ImportError as error:
    print(f"missing: {error}", file=sys.stderr)
    sys.exit(3)

if len(sys.argv) == 1:
    # Where Spark is.
    print(pyspark.__path__[0])
else:
    glob = f"{sys.argv[1]}/batch=*/machine=*/*.parquet"
    rows = duckdb.sql(
        f"select * from read_parquet('{glob}', hive_partitioning = true, hive_types_autocast = false) order by path"
    )
    for row in rows.fetchall():
        print(json.dumps(dict(zip(rows.columns, row))))
