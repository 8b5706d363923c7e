"""The run file: one SQLite database that holds one run whole.

Constants, the schema and its numbered changes; no I/O but the SQL text that ``schema`` runs.

A run file is an ordinary SQLite 3 database named ``<run id>.run``. Its ``application_id`` is
0x6261696E (``bain``), its ``user_version`` the number of the last schema change it has seen. While
a recorder writes it, it is in WAL mode (``-wal`` and ``-shm`` beside it belong to it) and a lock
file ``<run id>.run.lock`` is held through the operating system; a run that nobody writes, ended or
not, is one file in rollback mode, unless its writer was killed.

Tables
------
``run``
    One row: identity, frozen copies of sheet, bench and line shapes (as text that was read and as
    JSON after validation), start and end in UTC, the zone's IANA name, boot id, clock speed,
    origin, outcome, results (JSON). ``ended_utc_ns`` is NULL until the run is ended;
    ``interrupted`` is 1 for a run that was closed after it had been cut off.
``channel``
    One row a channel: number, id, instrument, field, role, unit *as stored* (``degC``, ``g`` or
    ``uV``). Values are stored as the instrument sent them, converted to that unit and nothing else;
    corrections are applied when they are read.
``tail``
    Readings since the last compaction: channel, ``n`` (the reading's number in its channel, from 0,
    without holes over blocks and tail), ``t_us``, value or NULL, flags (as in
    ``logger.model.reading.Flag``), cold junction or NULL.
``block``
    One row for up to 4096 readings of a channel, ``first_n`` to ``first_n + count - 1``: their time
    span, how many have no value (``n_bad``), low, high and mean of those that have (this is the
    pyramid's 1/4096 level), the 1/256 level, and the numbers of two rows of ``blob``: the columns
    and the 1/16 level. Compaction writes blocks and deletes the tail rows in one transaction.
``chunk`` and ``chunk_block``
    Raw bytes as they came: number ``n`` from 0 over all instruments, instrument, ``t_ns``, kind
    (0 open, 1 data, 2 close), bytes; and up to 60 s or 256 KiB of them compressed.
``event``
    Number ``seq`` from 1, time, kind, source, channel, port, stage, text, data (JSON).
``anchor``
    Where the axis stood against the clocks: boot id, monotonic, boottime, UTC, zone, axis time.
``counter``
    Latest cumulative counts of each instrument (JSON).
``photo``
    From version 4 on: pictures (JPEG) by their SHA-256, which the event of the photo names; so its
    seal holds for the picture as well.
``tally``
    One row, written in each transaction: the run's id again, ``doubt`` (bits: 1 the counts were
    damaged when the file was opened to write, 2 its log did not read to the end, 4 it needed a log
    and had none), ``parts`` (seals of the parts of ``run``), ``counts`` and its own seal.

Seals
-----
From version 3 on each row but those of ``photo`` is bound to its place: ``seal`` is BLAKE2b (RFC
7693) of 8 bytes over all other columns of the row in their order, its key among them. Its
personalization is BLAKE2b of 16 bytes of ``<run id>\\n<table>``, so a row of another run or table
never fits. A field is encoded as 0 for NULL, 1 and i64, 2 and f64, or 3, u32 length and bytes
(text is its UTF-8).

- ``tail``: the last row of each transaction and channel has the seal of that group, over its rows
  as i64 n, i64 t_us, f64 value, i64 flags, f64 cold junction (nan for NULL), table ``tail <channel
  number>``; the other rows have NULL.
- ``blob``: its seal is over channel, first_n, 0 for the columns or 1 for the 1/16 level, and data.
- ``block``: ``mark`` is the plain digest (8 bytes) of the 1/256 level; the seal is over channel,
  first_n, count, the times, n_bad, low, high, mean and mark, not over the ids of the blobs. So a
  row still fits in a page: past 488 bytes it would take one more of its own.
- ``run``: sealed in parts, in the order of ``seals.tally.PARTS``, table ``run <part>``; their seals
  are ``parts`` of the tally.
- ``counts`` of the tally are i64: the file's version, how many chunks, events, anchors, counters
  and instruments there are, then how many readings each channel has. What vanishes is missed.

A version that the file's header states wrongly is known from the tally; a file with a tally is
never read as one of a version without seals. Seals find damage; they are no signature.

Time
----
``t_ns`` is monotonic nanoseconds since the run's start; UTC stands in ``run`` and ``anchor`` only.
Raw chunks and events keep whole nanoseconds. A *reading* is stamped in whole microseconds: its
stamp is rounded down (``whole_us``) before it is stored for the first time, in ``tail`` already, so
compaction changes nothing, an export carries the same stamp, and a replay of the raw chunks, whose
stamps are exact, rounds to the same microsecond. Whoever feeds readings to an engine live applies
``whole_us`` first, so that a later replay sees the same stream.

Values
------
A block whose values all are decimals with up to six places (as text from an instrument is) keeps
integers: ``value = count / 10**decimals``, which gives back the very same float64, since both are
the float nearest to the same decimal number. Any other block keeps float64. Two values are not kept
as they came: negative zero is stored as zero; a value that is not finite is stored as no value with
the flag FAULT.

Blobs
-----
All integers little-endian. A blob is ``u32 rows`` with the highest bit set, ``u32`` CRC-32 (that of
zlib) of all that follows, then columns, each ``u32 length`` and that many bytes. A blob of a
format 1 file may have that bit clear: it has no check sum, and its columns follow the number of
rows. A column begins with a mode byte:

==== ========================================================================================
0    constant: one i64
1, 2 i32 values / i32 first differences (the first difference is from 0 and given as i64 ahead)
3, 4 the same with i64
5    f64, one zstd frame
==== ========================================================================================

For 1 to 4 the bytes are shuffled (all lowest bytes first) and each byte plane is its own zstd
frame: ``u32 length`` and frame; length 0 and a byte stands for a plane of that byte only, length
0xFFFFFFFF for a plane that is not compressed.

- columns of a block: times [us]; value decimals (one byte, 255 for float64) and value counts or
  floats, where a reading without value repeats the one before it; bitmap of readings without value
  (empty: none); flags; cold junction in the same three columns as the value (empty: none at all).
- the 1/16 level: first time of each bin [us]; number without value; decimals; then for counts low,
  high - low, sum - n*low, for floats low, high, mean. Bins are 16 readings, the last may be
  shorter; a bin without any value has zeros.
- the 1/256 level is not such a blob but one zstd frame, with its own check sum, of records of 36
  bytes, all their first bytes ahead, then all their second bytes...: i64 first time [us], i32
  number without value, f64 low, f64 high, f64 mean (nan without any value).
- a chunk block: times [ns], instrument numbers, kinds, lengths, then all bytes as one zstd frame,
  grouped by instrument.
- a series kept beside the readings of a channel (``derived`` of the results, base64): value
  decimals, value counts or floats, bitmap, as in a block; one value a reading, in time order.
"""

APPLICATION_ID = 0x6261696E
"""``bain`` in ASCII."""

PAGE_BYTES = 2048
"""Page of the database: a block of some 13 kB wastes less of it than of one of 4096."""

BLOCK_READINGS = 4096
"""Most readings in a block."""

TAIL_NS = 60_000_000_000
"""A tail older than this is compacted though it is short [ns]."""

CHUNK_BLOCK_BYTES = 256 * 1024
"""Raw bytes that fill a chunk block."""

FINE, COARSE = 16, 256
"""Readings in a bin of the two lower pyramid levels; a block is the third."""

BOUND_VERSION = 3
"""Files of this version on are sealed."""

TABLES = frozenset(
    (
        "run",
        "channel",
        "instrument",
        "tail",
        "blob",
        "block",
        "chunk",
        "chunk_block",
        "event",
        "anchor",
        "counter",
        "tally",
        "photo",
        "sqlite_sequence",
    )
)
"""All that a run file may hold: no view, no trigger, no other table."""

SUFFIX = ".run"
"""Of a run file's name."""

MIN_SQLITE = (3, 51, 3)
"""SQLite before this can lose data when two connections checkpoint at once (sqlite.org/wal.html,
"The WAL-Reset Bug")."""

FIRST_SCHEMA = """
CREATE TABLE run (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    run_id TEXT NOT NULL,
    version TEXT NOT NULL,
    origin TEXT NOT NULL CHECK (origin IN ('live', 'import')),
    started_utc_ns INTEGER NOT NULL,
    zone TEXT NOT NULL,
    boot_id TEXT NOT NULL,
    clock_speed REAL NOT NULL,
    sheet_json TEXT NOT NULL,
    sheet_text TEXT NOT NULL,
    bench_json TEXT NOT NULL,
    bench_text TEXT NOT NULL,
    shapes_text TEXT NOT NULL,
    ended_utc_ns INTEGER,
    interrupted INTEGER NOT NULL DEFAULT 0,
    outcome TEXT,
    defects TEXT NOT NULL DEFAULT '[]',
    outcome_note TEXT NOT NULL DEFAULT '',
    results TEXT
);
CREATE TABLE channel (
    number INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    instrument TEXT NOT NULL,
    field TEXT NOT NULL,
    role TEXT NOT NULL,
    unit TEXT NOT NULL
);
CREATE TABLE instrument (number INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE);
CREATE TABLE tail (
    channel INTEGER NOT NULL,
    n INTEGER NOT NULL,
    t_us INTEGER NOT NULL,
    value REAL,
    flags INTEGER NOT NULL,
    cold_junction_c REAL,
    PRIMARY KEY (channel, n)
) WITHOUT ROWID;
CREATE TABLE blob (id INTEGER PRIMARY KEY, data BLOB NOT NULL);
CREATE TABLE block (
    channel INTEGER NOT NULL,
    first_n INTEGER NOT NULL,
    count INTEGER NOT NULL,
    t_first_us INTEGER NOT NULL,
    t_min_us INTEGER NOT NULL,
    t_max_us INTEGER NOT NULL,
    n_bad INTEGER NOT NULL,
    low REAL,
    high REAL,
    mean REAL,
    columns INTEGER NOT NULL REFERENCES blob (id),
    fine INTEGER NOT NULL REFERENCES blob (id),
    coarse BLOB NOT NULL,
    PRIMARY KEY (channel, first_n)
) WITHOUT ROWID;
CREATE TABLE chunk (
    n INTEGER PRIMARY KEY,
    instrument INTEGER NOT NULL,
    t_ns INTEGER NOT NULL,
    kind INTEGER NOT NULL,
    data BLOB NOT NULL
);
CREATE TABLE chunk_block (
    first_n INTEGER PRIMARY KEY,
    count INTEGER NOT NULL,
    t_min_ns INTEGER NOT NULL,
    t_max_ns INTEGER NOT NULL,
    bytes INTEGER NOT NULL,
    data BLOB NOT NULL
);
CREATE TABLE event (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    t_ns INTEGER NOT NULL,
    kind TEXT NOT NULL,
    source TEXT NOT NULL,
    channel TEXT,
    port TEXT,
    stage TEXT,
    text TEXT NOT NULL,
    data TEXT NOT NULL
);
CREATE TABLE anchor (
    id INTEGER PRIMARY KEY,
    boot_id TEXT NOT NULL,
    mono_ns INTEGER NOT NULL,
    boottime_ns INTEGER NOT NULL,
    utc_ns INTEGER NOT NULL,
    zone TEXT NOT NULL,
    t_ns INTEGER
);
CREATE TABLE counter (instrument TEXT PRIMARY KEY, counts TEXT NOT NULL);
"""


PHOTO_SCHEMA = "CREATE TABLE photo (sha256 TEXT PRIMARY KEY, data BLOB NOT NULL) WITHOUT ROWID"


def whole_us(t_ns: int) -> int:
    """Round a stamp down to a whole microsecond, as readings are stored.

    Parameters
    ----------
    t_ns : int
        Time on the run's axis [ns].

    Returns
    -------
    int
        The greatest multiple of 1000 that is not above it [ns].
    """
    return t_ns // 1000 * 1000
