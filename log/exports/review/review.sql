-- What many cases come to: times, findings, corrections, gaps; one row a case. It reads a table `facts`: facts.sql
-- makes it of exports, hand_over.py documents its columns. Afterwards the tables `review`, `review_all` and
-- `review_rules` are there: COPY review TO 'review.parquet'. Give one export a case: two of the same are two rows.
-- `tamponade review` runs this very file on DuckDB, and checks every export before. sqlglot turns it into the SQL of
-- Spark and PostgreSQL (dialects.py): it holds nothing that one of them lacks; what follows line by line is windows.
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
--   controlled_24h    the last word on bleeding within 24 h of "tube in" was "stopped"; empty before 24 h of both
--   rebled            it bled after it had stopped
--   complications     what went wrong, each once, in the order of the alphabet
--   outcome           the last word on it
--   site, month       of a hand-over: who gave it; month of the opening, or its year where the month was withheld

-- What still holds of each line: putting back and undoing take away the newest change that does. Changes lie on a pile;
-- a change holds if the pile was never lower after it.
CREATE OR REPLACE TEMP TABLE about_lines AS
WITH said AS (
    SELECT
        file, number, seq, fact, said_us, happened_us, kind, balloon, word, amount, detail,
        CASE WHEN fact IN ('entry_restored', 'change_undone') THEN -1 ELSE 1 END AS laid
    FROM facts
    WHERE fact IN (
        'entry_logged', 'entry_asked', 'question_answered', 'entry_amended', 'entry_struck', 'entry_restored',
        'change_undone'
    )
), summed AS (
    SELECT *, sum(laid) OVER (PARTITION BY file, number ORDER BY seq) AS total FROM said
), piled AS (
    SELECT *, total - least(0, min(total) OVER (PARTITION BY file, number ORDER BY seq)) AS height FROM summed
), followed AS (
    SELECT
        *,
        min(height) OVER (
            PARTITION BY file, number ORDER BY seq ROWS BETWEEN 1 FOLLOWING AND UNBOUNDED FOLLOWING
        ) AS lowest_after
    FROM piled
)
SELECT file, number, seq, fact, said_us, happened_us, kind, balloon, word, amount, detail
FROM followed
WHERE laid = 1 AND coalesce(lowest_after, height) >= height;

-- Every line as it stands: the last word on its status, its value and its time.
CREATE OR REPLACE TEMP TABLE lines AS
WITH last_words AS (
    SELECT
        file,
        number,
        max(seq) AS status_at,
        max(seq) FILTER (WHERE kind IS NOT NULL) AS entry_at,
        max(seq) FILTER (WHERE happened_us IS NOT NULL) AS happened_at,
        min(seq) FILTER (WHERE said_us IS NOT NULL) AS said_at
    FROM about_lines
    GROUP BY file, number
)
SELECT
    about_lines.file,
    about_lines.number,
    max(CASE fact WHEN 'entry_asked' THEN 'asked' WHEN 'entry_struck' THEN 'struck' ELSE 'stands' END)
        FILTER (WHERE seq = status_at) AS status,
    max(kind) FILTER (WHERE seq = entry_at) AS kind,
    max(balloon) FILTER (WHERE seq = entry_at) AS balloon,
    max(word) FILTER (WHERE seq = entry_at) AS word,
    max(amount) FILTER (WHERE seq = entry_at) AS amount,
    max(detail) FILTER (WHERE seq = entry_at) AS detail,
    coalesce(max(happened_us) FILTER (WHERE seq = happened_at), max(said_us) FILTER (WHERE seq = said_at)) AS happened
FROM about_lines
JOIN last_words ON last_words.file = about_lines.file AND last_words.number = about_lines.number
GROUP BY about_lines.file, about_lines.number;

CREATE OR REPLACE TEMP TABLE standing AS
SELECT
    file,
    number,
    happened,
    kind,
    detail,
    coalesce(balloon IN ('gastric', 'both'), false) AS gastric,
    coalesce(balloon IN ('oesophageal', 'both'), false) AS oesophageal,
    word,
    amount
FROM lines
WHERE status = 'stands';

-- The first of each thing, and the last line of all.
CREATE OR REPLACE TEMP TABLE firsts AS
SELECT
    file,
    min(happened) FILTER (WHERE kind = 'tube' AND word = 'in') AS tube_in,
    min(happened) FILTER (
        WHERE gastric AND (
            (kind IN ('volume_in', 'volume_total') AND amount > 0)
            OR (kind = 'balloon' AND word IS DISTINCT FROM 'down')
        )
    ) AS gastric_air,
    min(happened) FILTER (WHERE kind = 'xray' AND word IN ('requested', 'taken')) AS xray_asked,
    min(happened) FILTER (WHERE kind = 'xray' AND word = 'confirmed') AS xray_confirmed,
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
    SELECT file, number, happened, word, lead(happened) OVER (PARTITION BY file ORDER BY happened, number) AS until_us
    FROM said
    WHERE word IS DISTINCT FROM word_before
)
SELECT
    turns.file,
    count(*) FILTER (WHERE word = 'in') AS tubes,
    CAST(sum(coalesce(until_us, last_line) - happened) FILTER (WHERE word = 'in') AS BIGINT) AS dwell,
    bool_or(word = 'in' AND until_us IS NULL) AS still_in
FROM turns JOIN firsts ON firsts.file = turns.file
GROUP BY turns.file;

-- The oesophageal balloon, line by line. It is up with a volume in it, or when it was said to be up; with the tube in,
-- a pressure without a known volume says so too, and nought that it is not. `place` counts the lines of a case; where
-- the last of several words is wanted, 2 * place + 1 stands for yes and 2 * place for no.
CREATE OR REPLACE TEMP TABLE balloon_lines AS
WITH said AS (
    SELECT
        file, happened, kind, word, amount,
        row_number() OVER (PARTITION BY file ORDER BY happened, number) AS place
    FROM standing
    WHERE (oesophageal AND kind IN ('volume_in', 'volume_out', 'volume_total', 'pressure', 'balloon'))
        OR (kind = 'tube' AND word IN ('in', 'out'))
), of_tube AS (
    SELECT
        *,
        coalesce(max(CASE WHEN kind = 'tube' THEN 2 * place + CASE word WHEN 'in' THEN 1 ELSE 0 END END) OVER (
            PARTITION BY file ORDER BY place ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ), 0) % 2 = 1 AS was_in,
        coalesce(sum(CASE WHEN kind = 'tube' THEN 1 ELSE 0 END) OVER (
            PARTITION BY file ORDER BY place ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ), 0) AS tube_words
    FROM said
)
SELECT
    *,
    kind = 'tube' AND word = 'in' AND NOT was_in AS goes_in,
    kind = 'tube' AND word = 'out' AS comes_out
FROM of_tube;

-- Its volume after each line: counted from the last total, and never below nought.
CREATE OR REPLACE TEMP TABLE balloon_volumes AS
WITH set_or_changed AS (
    SELECT
        *,
        CASE
            WHEN goes_in OR comes_out OR (kind = 'balloon' AND word = 'down') THEN 0
            WHEN kind = 'volume_total' THEN amount
        END AS total,
        CASE kind WHEN 'volume_in' THEN coalesce(amount, 0) WHEN 'volume_out' THEN -coalesce(amount, 0) ELSE 0 END
            AS more
    FROM balloon_lines
), counted AS (
    SELECT *, count(total) OVER (PARTITION BY file ORDER BY place) AS totals FROM set_or_changed
), summed AS (
    SELECT *, sum(coalesce(total, more)) OVER (PARTITION BY file, totals ORDER BY place) AS balance FROM counted
), filled AS (
    SELECT
        file, place, happened, kind, word, amount, was_in, tube_words, goes_in, comes_out,
        balance - least(0, min(balance) OVER (PARTITION BY file, totals ORDER BY place)) AS volume
    FROM summed
)
SELECT *, coalesce(lag(volume) OVER (PARTITION BY file ORDER BY place), 0) AS volume_before FROM filled;

-- Since when it has been up after each line, and the longest stretch; air from before "tube in" was for a test, and so
-- what ended between the last "tube out" and "tube in" does not count.
CREATE OR REPLACE TEMP TABLE oesophageal AS
WITH words AS (
    SELECT
        *,
        CASE
            WHEN goes_in OR comes_out THEN 0
            WHEN kind = 'balloon' THEN CASE WHEN word IS DISTINCT FROM 'down' THEN 1 ELSE 0 END
            WHEN kind = 'volume_out' AND amount >= volume_before AND volume_before <> 0 THEN 0
            WHEN kind = 'pressure' AND was_in AND volume_before <= 0 AND amount > 0 THEN 1
            WHEN kind = 'pressure' AND was_in AND volume_before <= 0 AND amount <= 0 THEN 0
        END AS up_word
    FROM balloon_volumes
), said_up AS (
    SELECT *, coalesce(max(2 * place + up_word) OVER (PARTITION BY file ORDER BY place), 0) % 2 = 1 AS said_up
    FROM words
), risen AS (
    SELECT
        *,
        comes_out OR NOT (volume > 0 OR said_up) AS is_down,
        volume > volume_before
            OR (said_up AND NOT coalesce(lag(said_up) OVER (PARTITION BY file ORDER BY place), false)) AS rises
    FROM said_up
), counted AS (
    SELECT
        *,
        sum(CASE WHEN is_down THEN 1 ELSE 0 END) OVER (PARTITION BY file ORDER BY place) AS downs,
        count(*) OVER (PARTITION BY file) AS places
    FROM risen
), timed AS (
    SELECT
        *,
        min(CASE WHEN rises AND NOT is_down THEN happened END) OVER (PARTITION BY file, downs ORDER BY place) AS since,
        max(CASE WHEN goes_in THEN 1 ELSE 0 END) OVER (PARTITION BY file, tube_words) = 1 AS for_a_test
    FROM counted
), ended AS (
    SELECT *, lag(since) OVER (PARTITION BY file ORDER BY place) AS since_before FROM timed
), stretches AS (
    SELECT
        file,
        max(happened - since_before) FILTER (WHERE since IS NULL AND NOT for_a_test) AS longest,
        max(since) FILTER (WHERE place = places) AS since
    FROM ended
    GROUP BY file
)
SELECT stretches.file, greatest(longest, last_line - since) AS longest
FROM stretches JOIN firsts ON firsts.file = stretches.file;

-- What a registry asks for, as far as it was said: the last word on each thing.
CREATE OR REPLACE TEMP TABLE last_said AS
WITH said AS (
    SELECT
        standing.file,
        happened,
        number,
        word,
        CASE
            WHEN kind IN ('indication', 'outcome') THEN kind
            WHEN kind = 'decision' AND word IN (
                'endoscopy', 'shunt', 'stent', 'surgery', 'transfer', 'no further treatment'
            ) THEN 'therapy'
            WHEN kind = 'bleeding' AND happened <= tube_in + 86400000000 THEN 'bleeding'
        END AS about
    FROM standing JOIN firsts ON firsts.file = standing.file
), ranked AS (
    SELECT file, about, word, row_number() OVER (PARTITION BY file, about ORDER BY happened DESC, number DESC) AS place
    FROM said
    WHERE about IS NOT NULL AND word IS NOT NULL
)
SELECT
    file,
    max(word) FILTER (WHERE about = 'indication') AS indication,
    max(word) FILTER (WHERE about = 'therapy') AS therapy,
    max(word) FILTER (WHERE about = 'bleeding') AS bleeding,
    max(word) FILTER (WHERE about = 'outcome') AS outcome
FROM ranked
WHERE place = 1
GROUP BY file;

CREATE OR REPLACE TEMP TABLE bleeding AS
WITH said AS (
    SELECT file, word, lag(word) OVER (PARTITION BY file ORDER BY happened, number) AS word_before
    FROM standing
    WHERE kind = 'bleeding'
)
SELECT
    file,
    bool_or(coalesce(word = 'restarted' OR (word = 'continuing' AND word_before = 'stopped'), false)) AS rebled
FROM said
GROUP BY file;

CREATE OR REPLACE TEMP TABLE troubles AS
WITH named AS (
    SELECT DISTINCT file, detail FROM standing WHERE kind = 'trouble' AND detail IS NOT NULL
)
SELECT file, string_agg(detail, '; ' ORDER BY detail) AS complications FROM named GROUP BY file;

-- A finding is open if the last word on it is that it was raised.
CREATE OR REPLACE TEMP TABLE raised AS
WITH said AS (
    SELECT file, rule, level, fact, seq, max(seq) OVER (PARTITION BY file, rule, number, message) AS last_seq
    FROM facts
    WHERE fact IN ('finding_raised', 'finding_settled')
)
SELECT file, rule, level, seq = last_seq AS is_open FROM said WHERE fact = 'finding_raised';

CREATE OR REPLACE TEMP TABLE findings AS
SELECT
    file,
    count(*) FILTER (WHERE level = 'high') AS high_raised,
    count(*) FILTER (WHERE level = 'high' AND is_open) AS high_open,
    count(*) FILTER (WHERE level = 'medium') AS medium_raised,
    count(*) FILTER (WHERE level = 'medium' AND is_open) AS medium_open,
    count(*) FILTER (WHERE level = 'low') AS low_raised,
    count(*) FILTER (WHERE level = 'low' AND is_open) AS low_open,
    count(*) FILTER (WHERE level = 'information') AS information_raised,
    count(*) FILTER (WHERE level = 'information' AND is_open) AS information_open
FROM raised
GROUP BY file;

CREATE OR REPLACE TEMP TABLE not_confirmed AS
SELECT file, count(*) AS not_confirmed FROM lines WHERE status = 'asked' GROUP BY file;

CREATE OR REPLACE TEMP TABLE counts AS
SELECT
    file,
    max(site) AS site,
    max(month) AS month,
    max("case") AS "case",
    max(label) AS label,
    max(began) AS began,
    max(said_us) FILTER (WHERE fact = 'case_opened') AS opened,
    count(*) FILTER (WHERE fact = 'question_answered') AS answered,
    count(*) FILTER (WHERE fact = 'entry_amended') AS amended,
    count(*) FILTER (WHERE fact = 'entry_struck') AS struck,
    count(*) FILTER (WHERE fact = 'entry_logged' AND late) AS late,
    count(*) FILTER (WHERE fact = 'capture_gap') AS gaps,
    coalesce(sum(seconds) FILTER (WHERE fact = 'capture_gap'), 0) AS gap_s
FROM facts
GROUP BY file;

CREATE OR REPLACE TABLE review AS
SELECT
    counts.file,
    "case",
    label,
    began,
    CASE WHEN tube_in IS NULL THEN 'opening' ELSE 'tube in' END AS counted_from,
    CAST(gastric_air - coalesce(tube_in, opened) AS DOUBLE) / 1000000 AS to_gastric_s,
    CAST(xray_confirmed - coalesce(tube_in, opened) AS DOUBLE) / 1000000 AS to_xray_s,
    CASE WHEN xray_asked <= xray_confirmed
        THEN CAST(xray_confirmed - xray_asked AS DOUBLE) / 1000000
    END AS xray_delay_s,
    coalesce(tubes, 0) AS tubes,
    CAST(dwell AS DOUBLE) / 1000000 AS dwell_s,
    still_in,
    CAST(longest AS DOUBLE) / 1000000 AS oesophageal_s,
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
    coalesce(not_confirmed, 0) AS not_confirmed,
    gaps,
    CAST(gap_s AS DOUBLE) AS gap_s,
    indication,
    therapy,
    CASE WHEN last_line >= tube_in + 86400000000 THEN bleeding = 'stopped' END AS controlled_24h,
    rebled,
    complications,
    outcome,
    site,
    month
FROM counts
LEFT JOIN firsts ON firsts.file = counts.file
LEFT JOIN dwelling ON dwelling.file = counts.file
LEFT JOIN oesophageal ON oesophageal.file = counts.file
LEFT JOIN findings ON findings.file = counts.file
LEFT JOIN not_confirmed ON not_confirmed.file = counts.file
LEFT JOIN last_said ON last_said.file = counts.file
LEFT JOIN bleeding ON bleeding.file = counts.file
LEFT JOIN troubles ON troubles.file = counts.file
WHERE began IS NOT NULL
ORDER BY began, "case", counts.file;

-- All of them: medians of times, sums of counts.
CREATE OR REPLACE TABLE review_all AS
SELECT
    count(*) AS cases,
    median(to_gastric_s) AS to_gastric_s,
    median(to_xray_s) AS to_xray_s,
    median(xray_delay_s) AS xray_delay_s,
    CAST(sum(tubes) AS BIGINT) AS tubes,
    median(dwell_s) AS dwell_s,
    count(*) FILTER (WHERE still_in) AS still_in,
    median(oesophageal_s) AS oesophageal_s,
    CAST(sum(high_raised) AS BIGINT) AS high_raised,
    CAST(sum(high_open) AS BIGINT) AS high_open,
    CAST(sum(medium_raised) AS BIGINT) AS medium_raised,
    CAST(sum(medium_open) AS BIGINT) AS medium_open,
    CAST(sum(low_raised) AS BIGINT) AS low_raised,
    CAST(sum(low_open) AS BIGINT) AS low_open,
    CAST(sum(information_raised) AS BIGINT) AS information_raised,
    CAST(sum(information_open) AS BIGINT) AS information_open,
    CAST(sum(answered) AS BIGINT) AS answered,
    CAST(sum(amended) AS BIGINT) AS amended,
    CAST(sum(struck) AS BIGINT) AS struck,
    CAST(sum(late) AS BIGINT) AS late,
    CAST(sum(not_confirmed) AS BIGINT) AS not_confirmed,
    CAST(sum(gaps) AS BIGINT) AS gaps,
    CAST(sum(CAST(gap_s AS DECIMAL(18, 6))) AS DOUBLE) AS gap_s,
    count(*) FILTER (WHERE controlled_24h) AS controlled_24h,
    count(*) FILTER (WHERE rebled) AS rebled,
    count(*) FILTER (WHERE complications IS NOT NULL) AS with_complications
FROM review;

-- Findings by rule: how often raised, how many still hold, in how many cases.
CREATE OR REPLACE TABLE review_rules AS
SELECT
    rule,
    level,
    count(*) AS raised,
    count(*) FILTER (WHERE is_open) AS still_open,
    count(DISTINCT file) AS cases
FROM raised
GROUP BY rule, level;

-- The label is free text: it is in the table, and shown to nobody who does not ask.
SELECT * EXCLUDE (label) FROM review;
SELECT * FROM review_all;
