#!/usr/bin/env python3
"""Reviews many recordings on a Spark cluster and ranks the machines.

Each task starts `evenpull review --files-from - --ndjson --supervise` and pipes its share of the paths through it; this
script holds no judgement of its own. Every path of the list gets exactly one record, or the job fails.

    spark-submit review_fleet.py --list paths.txt --out results [--program /usr/local/bin/evenpull]

Paths must be readable on every worker under the same name. Needs PySpark 3.5 or newer and Java 17; set PYSPARK_PYTHON to the
interpreter of the workers.

Written below OUT: `batch=<hash of the list>/machine=<id>/*.parquet`. A later run with another list adds a batch; the same list
again replaces its own. Read the result as `OUT/batch=*/machine=*/*.parquet`: a driver that was killed may leave staging folders
elsewhere below OUT, and a recursive pattern would read them too.
"""

import argparse
import hashlib
import math
import shlex
import subprocess
import sys

from pyspark.sql import SparkSession
from pyspark.sql import functions as F

# What a recording without a machine is kept under.
UNNAMED = "_unnamed"

# The last visit of each machine, spread over limit drawn toward the fleet (DerSimonian & Laird), false discoveries controlled
# (Benjamini & Hochberg): the ranking of `evenpull fleet` for machines with one visit. Drift needs the history of a machine: that
# is what a book and `evenpull fleet --book` are for.
FIGURES = """
WITH once AS (
  SELECT *, ROW_NUMBER() OVER (PARTITION BY key, tool_version ORDER BY path) AS copy
  FROM records WHERE status = 'ok' AND machine <> '{unnamed}'
), last AS (
  SELECT *, ROW_NUMBER() OVER (PARTITION BY machine
    ORDER BY date IS NULL DESC, date DESC, hours IS NULL DESC, hours DESC,
      distance_km IS NULL DESC, distance_km DESC, key DESC) AS back
  FROM once WHERE copy = 1
)
SELECT machine, date, verdict, cylinder, class, spread_kpa, spread_u_kpa, limit_kpa, key, ratio,
  SQRT(POW(spread_u_kpa / 2, 2) + 0.5 * POW({repeatability}, 2)) / NULLIF(limit_kpa, 0) AS u
FROM last WHERE back = 1
"""
RANKING = """
WITH weights AS (
  SELECT COUNT(ratio) AS n, SUM(1 / (u * u)) AS w, SUM(1 / POW(u, 4)) AS w2, SUM(ratio / (u * u)) / SUM(1 / (u * u)) AS centre
  FROM figures WHERE ratio IS NOT NULL
), between AS (
  SELECT GREATEST(0, (SUM(POW(ratio - centre, 2) / (u * u)) - (MAX(n) - 1)) / NULLIF(MAX(w) - MAX(w2) / MAX(w), 0)) AS tau2
  FROM figures CROSS JOIN weights WHERE ratio IS NOT NULL
), mean AS (
  SELECT MAX(tau2) AS tau2, SUM(ratio / (tau2 + u * u)) / SUM(1 / (tau2 + u * u)) AS centre
  FROM figures CROSS JOIN between WHERE ratio IS NOT NULL
), scored AS (
  SELECT f.*, COALESCE(IF(n < 3, ratio, centre + tau2 / (tau2 + u * u) * (ratio - centre)), 0) AS score,
    normal_sf((ratio - 1) / u) AS p
  FROM figures f CROSS JOIN mean CROSS JOIN (SELECT n FROM weights)
), stepped AS (
  SELECT *, p * COUNT(p) OVER () / ROW_NUMBER() OVER (ORDER BY p NULLS LAST, machine) AS step FROM scored
), adjusted AS (
  SELECT *, LEAST(1, MIN(step) OVER (ORDER BY p NULLS LAST, machine ROWS BETWEEN CURRENT ROW AND UNBOUNDED FOLLOWING)) AS q
  FROM stepped
)
SELECT ROW_NUMBER() OVER (ORDER BY urgency, score DESC, machine) AS rank, machine, attention, date, verdict,
  cylinder, class, spread_kpa, spread_u_kpa, limit_kpa, ratio, score, p, q
FROM (
  SELECT *, CASE WHEN verdict = 'outside' AND q <= {rate} THEN 'act' WHEN verdict = 'outside' THEN 'watch'
      WHEN verdict = 'within' THEN 'fine' ELSE 'measure-again' END AS attention,
    CASE WHEN verdict = 'outside' AND q <= {rate} THEN 0 WHEN verdict = 'outside' THEN 1
      WHEN verdict = 'within' THEN 3 ELSE 2 END AS urgency
  FROM adjusted
) ORDER BY rank
"""


def arguments():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--list", required=True, help="text file on the driver, one path a line")
    parser.add_argument("--out", required=True, help="folder of the Parquet files, shared by all workers")
    parser.add_argument("--program", default="evenpull", help="evenpull on the workers")
    parser.add_argument("--machine", help="machine file for all of them")
    parser.add_argument("--timeout-s", type=float, default=60.0, help="seconds a file may take, twice")
    parser.add_argument("--per-task", type=int, default=50, help="files of one task")
    parser.add_argument("--repeatability-kpa", type=float, default=0.3, help="scatter of a change between two visits; the default of evenpull fleet")
    parser.add_argument("--false-discovery-rate", type=float, default=0.05)
    parser.add_argument("--ranking", help="also write the ranking here, as CSV")
    parser.add_argument("--failures", help="also write the list of failures here, as CSV")
    parser.add_argument("--worker-option", action="append", default=[], help=argparse.SUPPRESS)
    return parser.parse_args()


def command(asked):
    words = [asked.program, "review", "--files-from", "-", "--ndjson", "--supervise", "--threads", "1"]
    words += ["--timeout-s", str(asked.timeout_s)]
    if asked.machine:
        words += ["--machine", asked.machine]
    return " ".join(shlex.quote(w) for w in words + asked.worker_option)


def review(spark, asked, lines, batch):
    """Runs the reviews and writes them; returns the records, without detail, as read back from what was written."""
    ddl = subprocess.run([asked.program, "schema", "--spark-ddl"], check=True, capture_output=True, text=True).stdout.strip()
    tasks = max(1, math.ceil(len(lines) / asked.per_task))
    # Without checkCode a program that dies in the middle of its share loses the rest of it in silence.
    answers = spark.sparkContext.parallelize(lines, tasks).pipe(command(asked), checkCode=True)
    records = (
        spark.read.schema(ddl)
        .option("mode", "FAILFAST")
        .json(answers)
        .withColumn("machine", F.coalesce("machine", F.lit(UNNAMED)))
    )
    # One file a machine: by machine first, then written. The folder of the batch is replaced as a whole: machine by machine, a
    # record that changed its machine since the last run of this list (a file that was missing then) would be there twice.
    here = f"{asked.out}/batch={batch}"
    records.repartition("machine").write.mode("overwrite").partitionBy("machine").parquet(here)
    written = spark.read.option("basePath", asked.out).schema(f"{ddl}, batch STRING").parquet(here)
    # Counted, ranked and searched for failures: read once, without the long texts.
    written = written.drop("detail").persist()
    found = written.count()
    if found != len(lines):
        sys.exit(f"{len(lines)} paths in, {found} records out: nothing of this batch may be trusted")
    return written


def main():
    asked = arguments()
    # Line ends as the worker sees them: a name may hold any other character.
    with open(asked.list, encoding="utf-8", newline="\n") as source:
        lines = [line.removesuffix("\n").removesuffix("\r") for line in source]
    if not lines:
        sys.exit(f"{asked.list}: no path in it")
    batch = hashlib.sha256("\n".join(lines).encode()).hexdigest()[:16]
    spark = (
        SparkSession.builder.appName("evenpull fleet review")
        .config("spark.sql.sources.partitionOverwriteMode", "static")
        # Ids such as 007 stay text.
        .config("spark.sql.sources.partitionColumnTypeInference.enabled", "false")
        .getOrCreate()
    )
    spark.udf.register("normal_sf", lambda z: None if z is None else 0.5 * math.erfc(z / math.sqrt(2.0)), "double")
    review(spark, asked, lines, batch).createOrReplaceTempView("records")
    # One short row a machine, used by every step of the ranking.
    figures = spark.sql(FIGURES.format(unnamed=UNNAMED, repeatability=asked.repeatability_kpa)).coalesce(1).cache()
    figures.createOrReplaceTempView("figures")
    ranking = spark.sql(RANKING.format(rate=asked.false_discovery_rate)).collect()
    failures = spark.sql("SELECT status, path, error FROM records WHERE status <> 'ok' ORDER BY path").collect()
    table(ranking, asked.ranking, "ranking")
    table(failures, asked.failures, "failures")
    spark.stop()


def table(rows, path, what):
    """Writes rows as CSV to a file, or to standard output with a heading."""
    import csv

    rows = [row.asDict() for row in rows]
    target = open(path, "w", newline="", encoding="utf-8") if path else sys.stdout
    try:
        if not path:
            print(f"# {what}: {len(rows)}")
        if rows:
            writer = csv.DictWriter(target, rows[0].keys())
            writer.writeheader()
            writer.writerows(rows)
    finally:
        if path:
            target.close()


if __name__ == "__main__":
    main()
