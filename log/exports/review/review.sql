-- What many cases come to: times, findings, corrections, gaps; one row a case. It reads the JSON Lines that
-- `tamponade export CASE --to jsonl` writes (with --deidentify too), and needs DuckDB alone (tried with 2.0):
--
--     cd exports && duckdb -f review.sql                                              every *.jsonl in this folder
--     duckdb -cmd "SET VARIABLE facts = ['north/*.jsonl', 'south/*.jsonl']" -f review.sql
--
-- Afterwards the tables `review` and `review_all` are there: COPY review TO 'review.parquet'. Give one export a case:
-- two of the same case are two rows. `tamponade review` runs this very file, and checks every export before.
--
-- How it counts. Lines count as they stand at the end: with the value and the time of their last correction, and not
-- at all if they were struck or never confirmed: air that was only asked about is no air here, and `not_confirmed` says
-- that something was. Times are in seconds. A case with several tubes is one row: first times are those of the first
-- tube, `dwell_s` is the sum over all, `oesophageal_s` the longest in any.
--
--   counted_from      "tube in": the first standing line that says so; else "opening": when the log was begun
--   to_gastric_s      from there to the first standing air into the gastric balloon, however it was said
--   to_xray_s         from there to the first standing X-ray that confirms the position
--   xray_delay_s      from the first standing X-ray requested or taken to that; empty if none was said before it
--   tubes             how many went in
--   dwell_s           in which a tube was in; to the last standing line if it never came out (still_in)
--   oesophageal_s     the longest stretch in which the oesophageal balloon had air in it; ends with the tube out, too;
--                     air from before "tube in" was for a test
--   *_raised, *_open  findings by priority: ever raised, and those that still hold
--   answered ... late corrections: questions answered, lines amended, lines struck, lines entered late
--   not_confirmed     questions that nobody answered
--   gaps, gap_s       stretches in which nothing could be heard
--   indication        as it was said; empty if it was not, as all that follows
--   therapy           the last decision on definitive treatment
--   controlled_24h    the last word on bleeding within 24 h of "tube in" was "stopped"; empty before 24 h of log and tube
--   rebled            it bled after it had stopped
--   complications     what went wrong, each once, in the order of the alphabet
--   outcome           the last word on it

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

CREATE OR REPLACE TEMP TABLE facts AS
SELECT filename AS file, * EXCLUDE (filename)
FROM read_json(
    coalesce(getvariable('facts'), ['*.jsonl']),
    format = 'newline_delimited',
    filename = true,
    columns = {
        'year': 'INTEGER', 'fact': 'VARCHAR', 'seq': 'BIGINT', 'case': 'VARCHAR', 'label': 'VARCHAR',
        'logged_at': 'VARCHAR', 'said_at': 'VARCHAR', 'happened_at': 'VARCHAR', 'number': 'BIGINT',
        'entry': 'STRUCT(kind VARCHAR, site VARCHAR, value JSON, detail VARCHAR)',
        'candidates': 'STRUCT(kind VARCHAR, site VARCHAR, value JSON, detail VARCHAR)[]',
        'simulation': 'VARCHAR', 'by_s': 'BIGINT', 'moves': 'BIGINT',
        'late_reason': 'VARCHAR', 'rule': 'VARCHAR', 'level': 'VARCHAR', 'message': 'VARCHAR', 'seconds': 'DOUBLE'
    }
);

-- A rehearsal is no case: nobody was treated.
DELETE FROM facts WHERE file IN (SELECT file FROM facts WHERE simulation <> '');

-- Where the clock was corrected, by how many seconds what was recorded before is moved.
CREATE OR REPLACE TEMP TABLE shifts AS
SELECT facts.file, facts.seq, sum(corrected.by_s)::BIGINT AS by_s
FROM facts
JOIN facts AS corrected ON corrected.file = facts.file AND corrected.fact = 'clock_corrected'
    AND facts.seq <= corrected.moves AND facts.seq < corrected.seq
GROUP BY facts.file, facts.seq;

-- What still holds of each line: putting back and undoing take away the newest change that does.
CREATE OR REPLACE TEMP TABLE about_lines AS
WITH said AS (
    SELECT
        file,
        number,
        list(
            [{
                seq: seq, fact: fact, entry: CASE fact WHEN 'entry_asked' THEN candidates[1] ELSE entry END,
                said: micros(said_at) + 1000000 * coalesce(by_s, 0),
                happened: micros(happened_at) + 1000000 * coalesce(by_s, 0)
            }]
            ORDER BY seq
        ) AS changes
    FROM (SELECT * EXCLUDE (by_s) FROM facts) LEFT JOIN shifts USING (file, seq)
    WHERE fact IN (
        'entry_logged', 'entry_asked', 'question_answered', 'entry_amended', 'entry_struck', 'entry_restored',
        'change_undone'
    )
    GROUP BY file, number
)
SELECT file, number, held.seq, held.fact, held.entry, held.said, held.happened
FROM (
    SELECT
        file,
        number,
        unnest(list_reduce(
            changes,
            lambda held, one: CASE
                WHEN one[1].fact IN ('entry_restored', 'change_undone') THEN held[1:len(held) - 1]
                ELSE held || one
            END
        )) AS held
    FROM said
);

-- Every line as it stands: the last word on its status, its value and its time.
CREATE OR REPLACE TEMP TABLE lines AS
SELECT
    file,
    number,
    arg_max(
        CASE fact WHEN 'entry_asked' THEN 'asked' WHEN 'entry_struck' THEN 'struck' ELSE 'stands' END, seq
    ) AS status,
    arg_max(entry, seq) AS entry,
    coalesce(arg_max(happened, seq), arg_min(said, seq)) AS happened
FROM about_lines
GROUP BY file, number;

CREATE OR REPLACE TEMP TABLE standing AS
SELECT
    file,
    number,
    happened,
    entry.kind AS kind,
    entry.detail AS detail,
    coalesce(entry.site IN ('gastric', 'both'), false) AS gastric,
    coalesce(entry.site IN ('oesophageal', 'both'), false) AS oesophageal,
    CASE WHEN json_type(entry.value) = 'VARCHAR' THEN entry.value ->> '$' END AS word,
    CASE WHEN json_type(entry.value) <> 'VARCHAR' THEN try_cast(entry.value ->> '$' AS DOUBLE) END AS amount
FROM lines
WHERE status = 'stands';

-- The first of each thing, and the last line of all.
CREATE OR REPLACE TEMP TABLE firsts AS
SELECT
    file,
    min(happened) FILTER (kind = 'tube' AND word = 'in') AS tube_in,
    min(happened) FILTER (
        gastric AND (
            (kind IN ('volume_in', 'volume_total') AND amount > 0)
            OR (kind = 'balloon' AND word IS DISTINCT FROM 'down')
        )
    ) AS gastric_air,
    min(happened) FILTER (kind = 'xray' AND word IN ('requested', 'taken')) AS xray_asked,
    min(happened) FILTER (kind = 'xray' AND word = 'confirmed') AS xray_confirmed,
    max(happened) AS last_line
FROM standing
GROUP BY file;

-- Stretches with the tube in: "in" said twice is one.
CREATE OR REPLACE TEMP TABLE dwelling AS
WITH said AS (
    SELECT file, number, happened, word, lag(word) OVER (PARTITION BY file ORDER BY happened, number) AS word_before
    FROM standing
    WHERE kind = 'tube' AND word IN ('in', 'out')
), turns AS (
    SELECT file, number, happened, word, lead(happened) OVER (PARTITION BY file ORDER BY happened, number) AS until
    FROM said
    WHERE word IS DISTINCT FROM word_before
)
SELECT
    file,
    count(*) FILTER (word = 'in') AS tubes,
    sum(coalesce(until, last_line) - happened) FILTER (word = 'in') AS dwell,
    bool_or(word = 'in' AND until IS NULL) AS still_in
FROM turns JOIN firsts USING (file)
GROUP BY file;

-- The oesophageal balloon, line by line. `s`: how it stood; `e`: what was said. It is up with a volume in it, or when
-- it was said to be up; with the tube in, a pressure without a known volume says so too, and nought that it is not.
CREATE OR REPLACE TEMP MACRO goes_in(s, e) AS e.kind = 'tube' AND e.word = 'in' AND NOT s.tube_in;
CREATE OR REPLACE TEMP MACRO flat(s, e) AS goes_in(s, e) OR (e.kind = 'tube' AND e.word = 'out');
CREATE OR REPLACE TEMP MACRO volume_after(s, e) AS
    CASE
        WHEN flat(s, e) THEN 0
        WHEN e.kind = 'balloon' AND e.word = 'down' THEN 0
        WHEN e.kind = 'volume_in' THEN s.volume + coalesce(e.amount, 0)
        WHEN e.kind = 'volume_out' THEN greatest(s.volume - coalesce(e.amount, 0), 0)
        WHEN e.kind = 'volume_total' THEN coalesce(e.amount, s.volume)
        ELSE s.volume
    END;
CREATE OR REPLACE TEMP MACRO said_up_after(s, e) AS
    CASE
        WHEN flat(s, e) THEN false
        WHEN e.kind = 'balloon' THEN e.word IS DISTINCT FROM 'down'
        WHEN e.kind = 'volume_out' AND e.amount IS NOT NULL THEN s.said_up AND (s.volume > e.amount OR s.volume = 0)
        WHEN e.kind = 'pressure' AND s.tube_in AND s.volume <= 0 THEN coalesce(e.amount > 0, s.said_up)
        ELSE s.said_up
    END;
CREATE OR REPLACE TEMP MACRO up_since_after(s, e) AS
    CASE
        WHEN e.kind = 'tube' AND e.word = 'out' THEN NULL
        WHEN NOT (volume_after(s, e) > 0 OR said_up_after(s, e)) THEN NULL
        WHEN volume_after(s, e) > s.volume OR (said_up_after(s, e) AND NOT s.said_up) THEN coalesce(s.since, e.happened)
        ELSE s.since
    END;

CREATE OR REPLACE TEMP TABLE oesophageal AS
WITH told AS (
    SELECT
        file,
        list_reduce(
            list(
                {
                    happened: happened, kind: kind, word: word, amount: amount, volume: 0::DOUBLE,
                    said_up: false, tube_in: false, since: NULL::BIGINT, longest: NULL::BIGINT,
                    of_tubes_before: NULL::BIGINT
                }
                ORDER BY happened, number
            ),
            lambda s, e: {
                happened: e.happened, kind: e.kind, word: e.word, amount: e.amount,
                volume: volume_after(s, e),
                said_up: said_up_after(s, e),
                tube_in: CASE WHEN e.kind = 'tube' THEN e.word = 'in' ELSE s.tube_in END,
                since: up_since_after(s, e),
                longest: CASE
                    WHEN goes_in(s, e) THEN s.of_tubes_before
                    WHEN s.since IS NOT NULL AND up_since_after(s, e) IS NULL
                        THEN greatest(coalesce(s.longest, 0), e.happened - s.since)
                    ELSE s.longest
                END,
                of_tubes_before: CASE
                    WHEN e.kind = 'tube' AND e.word = 'out'
                        THEN greatest(s.longest, CASE WHEN s.since IS NOT NULL THEN e.happened - s.since END)
                    ELSE s.of_tubes_before
                END
            },
            {
                happened: NULL::BIGINT, kind: '', word: '', amount: NULL::DOUBLE, volume: 0::DOUBLE,
                said_up: false, tube_in: false, since: NULL::BIGINT, longest: NULL::BIGINT,
                of_tubes_before: NULL::BIGINT
            }
        ) AS s
    FROM standing
    WHERE (oesophageal AND kind IN ('volume_in', 'volume_out', 'volume_total', 'pressure', 'balloon'))
        OR (kind = 'tube' AND word IN ('in', 'out'))
    GROUP BY file
)
SELECT file, greatest(s.longest, last_line - s.since) AS longest
FROM told JOIN firsts USING (file);

-- What a registry asks for, as far as it was said.
CREATE OR REPLACE TEMP TABLE registry AS
WITH bleeding AS (
    SELECT file, happened, word, lag(word) OVER (PARTITION BY file ORDER BY happened, number) AS word_before
    FROM standing
    WHERE kind = 'bleeding'
)
SELECT
    standing.file,
    arg_max(word, (happened, number)) FILTER (kind = 'indication') AS indication,
    arg_max(word, (happened, number)) FILTER (
        kind = 'decision' AND word IN ('endoscopy', 'shunt', 'stent', 'surgery', 'transfer', 'no further treatment')
    ) AS therapy,
    CASE WHEN any_value(last_line) >= any_value(tube_in) + 24 * 3600 * 1000000::BIGINT THEN
        arg_max(word, (happened, number)) FILTER (
            kind = 'bleeding' AND happened <= tube_in + 24 * 3600 * 1000000::BIGINT
        ) = 'stopped'
    END AS controlled_24h,
    arg_max(word, (happened, number)) FILTER (kind = 'outcome') AS outcome,
    string_agg(DISTINCT detail, '; ' ORDER BY detail) FILTER (kind = 'trouble') AS complications,
    (
        SELECT bool_or(coalesce(word = 'restarted' OR (word = 'continuing' AND word_before = 'stopped'), false))
        FROM bleeding WHERE bleeding.file = standing.file
    ) AS rebled
FROM standing JOIN firsts USING (file)
GROUP BY standing.file;

-- A finding is open if the last word on it is that it was raised.
CREATE OR REPLACE TEMP TABLE findings AS
WITH told AS (
    SELECT
        file,
        count(*) FILTER (fact = 'finding_raised' AND level = 'high') AS high_raised,
        count(*) FILTER (fact = 'finding_raised' AND level = 'medium') AS medium_raised,
        count(*) FILTER (fact = 'finding_raised' AND level = 'low') AS low_raised,
        count(*) FILTER (fact = 'finding_raised' AND level = 'information') AS information_raised,
        arg_max(level, seq) AS level,
        arg_max(fact, seq) = 'finding_raised' AS open
    FROM facts
    WHERE fact IN ('finding_raised', 'finding_settled')
    GROUP BY file, rule, number, message
)
SELECT
    file,
    sum(high_raised)::BIGINT AS high_raised,
    count(*) FILTER (open AND level = 'high') AS high_open,
    sum(medium_raised)::BIGINT AS medium_raised,
    count(*) FILTER (open AND level = 'medium') AS medium_open,
    sum(low_raised)::BIGINT AS low_raised,
    count(*) FILTER (open AND level = 'low') AS low_open,
    sum(information_raised)::BIGINT AS information_raised,
    count(*) FILTER (open AND level = 'information') AS information_open
FROM told
GROUP BY file;

CREATE OR REPLACE TEMP TABLE counts AS
SELECT
    file,
    any_value(year) AS year,
    any_value("case") FILTER (fact = 'case_opened') AS "case",
    any_value(label) FILTER (fact = 'case_opened') AS label,
    any_value(moved_text(logged_at, coalesce(shifts.by_s, 0))) FILTER (fact = 'case_opened') AS began,
    count(*) FILTER (fact = 'question_answered') AS answered,
    count(*) FILTER (fact = 'entry_amended') AS amended,
    count(*) FILTER (fact = 'entry_struck') AS struck,
    count(*) FILTER (fact = 'entry_logged' AND late_reason <> '') AS late,
    count(*) FILTER (fact = 'capture_gap') AS gaps,
    coalesce(sum(seconds) FILTER (fact = 'capture_gap'), 0) AS gap_s
FROM facts LEFT JOIN shifts USING (file, seq)
GROUP BY file;

CREATE OR REPLACE TABLE review AS
SELECT
    counts.file,
    nullif(counts."case", '') AS "case",
    nullif(counts.label, '') AS label,
    CASE WHEN began LIKE '%PT%' THEN year::VARCHAR ELSE began END AS began,
    CASE WHEN tube_in IS NULL THEN 'opening' ELSE 'tube in' END AS counted_from,
    (gastric_air - coalesce(tube_in, micros(began))) / 1e6 AS to_gastric_s,
    (xray_confirmed - coalesce(tube_in, micros(began))) / 1e6 AS to_xray_s,
    CASE WHEN xray_asked <= xray_confirmed THEN (xray_confirmed - xray_asked) / 1e6 END AS xray_delay_s,
    coalesce(tubes, 0) AS tubes,
    dwell / 1e6 AS dwell_s,
    still_in,
    longest / 1e6 AS oesophageal_s,
    coalesce(high_raised, 0) AS high_raised,
    coalesce(high_open, 0) AS high_open,
    coalesce(medium_raised, 0) AS medium_raised,
    coalesce(medium_open, 0) AS medium_open,
    coalesce(low_raised, 0) AS low_raised,
    coalesce(low_open, 0) AS low_open,
    coalesce(information_raised, 0) AS information_raised,
    coalesce(information_open, 0) AS information_open,
    answered,
    amended,
    struck,
    late,
    (SELECT count(*) FROM lines WHERE lines.file = counts.file AND status = 'asked') AS not_confirmed,
    gaps,
    gap_s,
    indication,
    therapy,
    controlled_24h,
    rebled,
    complications,
    outcome
FROM counts
LEFT JOIN firsts USING (file)
LEFT JOIN dwelling USING (file)
LEFT JOIN oesophageal USING (file)
LEFT JOIN findings USING (file)
LEFT JOIN registry USING (file)
WHERE began IS NOT NULL
ORDER BY began, "case", file;

-- All of them: medians of times, sums of counts.
CREATE OR REPLACE TABLE review_all AS
SELECT
    count(*) AS cases,
    median(to_gastric_s) AS to_gastric_s,
    median(to_xray_s) AS to_xray_s,
    median(xray_delay_s) AS xray_delay_s,
    sum(tubes)::BIGINT AS tubes,
    median(dwell_s) AS dwell_s,
    count(*) FILTER (still_in) AS still_in,
    median(oesophageal_s) AS oesophageal_s,
    sum(COLUMNS('.*_(raised|open)'))::BIGINT,
    sum(answered)::BIGINT AS answered,
    sum(amended)::BIGINT AS amended,
    sum(struck)::BIGINT AS struck,
    sum(late)::BIGINT AS late,
    sum(not_confirmed)::BIGINT AS not_confirmed,
    sum(gaps)::BIGINT AS gaps,
    sum(gap_s) AS gap_s,
    count(*) FILTER (controlled_24h) AS controlled_24h,
    count(*) FILTER (rebled) AS rebled,
    count(*) FILTER (complications IS NOT NULL) AS with_complications
FROM review;

-- The label is free text: it is in the table, and shown to nobody who does not ask.
SELECT * EXCLUDE (label) FROM review;
SELECT * FROM review_all;
