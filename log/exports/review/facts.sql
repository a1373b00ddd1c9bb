-- Exports as one table `facts`, which review.sql reads: JSON Lines that `tamponade export CASE --to jsonl` writes, with
-- --deidentify too. For DuckDB (tried with 2.0); its other columns, and what a hand-over as Parquet has of them, are
-- documented in hand_over.py.
--
-- Every *.jsonl in this folder, then the review:
--
--     duckdb -cmd ".read facts.sql" -f review.sql
--     duckdb -cmd "SET VARIABLE facts = ['north/*.jsonl', 'south/*.jsonl']" -cmd ".read facts.sql" -f review.sql

-- Microseconds: of a time with its offset, or of a duration since the opening, where dates were taken out ("PT250.5S").
CREATE OR REPLACE TEMP MACRO micros(said) AS
    CASE WHEN said LIKE '%PT%'
        THEN (replace(rtrim(said, 'S'), 'PT', '')::DECIMAL(18, 6) * 1000000)::BIGINT
        ELSE epoch_us(said::TIMESTAMPTZ)
    END;

-- A time in its own zone, so many seconds later; where dates were taken out, times are moved already.
CREATE OR REPLACE TEMP MACRO moved_text(said, by_s) AS
    CASE WHEN by_s = 0 OR said LIKE '%PT%'
        THEN said
        ELSE strftime(said[1:19]::TIMESTAMP + to_seconds(by_s), '%Y-%m-%dT%H:%M:%S') || said[20:]
    END;

CREATE OR REPLACE TEMP TABLE exported AS
SELECT filename AS file, * EXCLUDE (filename)
FROM read_json(
    coalesce(getvariable('facts'), ['*.jsonl']),
    format = 'newline_delimited',
    filename = true,
    columns = {
        'year': 'INTEGER', 'month': 'VARCHAR', 'fact': 'VARCHAR', 'seq': 'BIGINT', 'case': 'VARCHAR',
        'label': 'VARCHAR', 'logged_at': 'VARCHAR', 'said_at': 'VARCHAR', 'happened_at': 'VARCHAR', 'number': 'BIGINT',
        'entry': 'STRUCT(kind VARCHAR, site VARCHAR, value JSON, detail VARCHAR)',
        'candidates': 'STRUCT(kind VARCHAR, site VARCHAR, value JSON, detail VARCHAR)[]',
        'simulation': 'VARCHAR', 'by_s': 'BIGINT', 'moves': 'BIGINT',
        'late_reason': 'VARCHAR', 'rule': 'VARCHAR', 'level': 'VARCHAR', 'message': 'VARCHAR', 'seconds': 'DOUBLE'
    }
);

-- A rehearsal is no case: nobody was treated.
DELETE FROM exported WHERE file IN (SELECT file FROM exported WHERE simulation <> '');

-- Where the clock was corrected, by how many seconds what was recorded before is moved.
CREATE OR REPLACE TEMP TABLE shifts AS
SELECT exported.file, exported.seq, sum(corrected.by_s)::BIGINT AS moved_s
FROM exported
JOIN exported AS corrected ON corrected.file = exported.file AND corrected.fact = 'clock_corrected'
    AND exported.seq <= corrected.moves AND exported.seq < corrected.seq
GROUP BY exported.file, exported.seq;

CREATE OR REPLACE TABLE facts AS
WITH said AS (
    SELECT
        *,
        coalesce(moved_s, 0) AS by_seconds,
        CASE fact WHEN 'entry_asked' THEN candidates[1] ELSE entry END AS meant,
        CASE fact WHEN 'case_opened' THEN logged_at ELSE said_at END AS moment,
        max(coalesce(month, year::VARCHAR)) OVER (PARTITION BY file) AS period
    FROM exported LEFT JOIN shifts USING (file, seq)
), timed AS (
    SELECT
        *,
        CASE WHEN fact = 'case_opened'
            THEN CASE WHEN logged_at LIKE '%PT%' THEN period ELSE moved_text(logged_at, by_seconds) END
        END AS began
    FROM said
    WHERE fact IS NOT NULL
)
SELECT
    NULL::VARCHAR AS site,
    max(began[1:7]) OVER (PARTITION BY file) AS month,
    file,
    seq,
    fact,
    number,
    micros(moment) + 1000000 * by_seconds AS said_us,
    micros(happened_at) + 1000000 * by_seconds AS happened_us,
    meant.kind AS kind,
    meant.site AS balloon,
    CASE WHEN json_type(meant.value) = 'VARCHAR' THEN meant.value ->> '$' END AS word,
    CASE WHEN json_type(meant.value) <> 'VARCHAR' THEN try_cast(meant.value ->> '$' AS DECIMAL(18, 6)) END AS amount,
    meant.detail AS detail,
    late_reason <> '' AS late,
    rule,
    level,
    message,
    seconds::DECIMAL(18, 6) AS seconds,
    CASE fact WHEN 'case_opened' THEN nullif("case", '') END AS "case",
    CASE fact WHEN 'case_opened' THEN nullif(label, '') END AS label,
    began
FROM timed
ORDER BY file, seq;
