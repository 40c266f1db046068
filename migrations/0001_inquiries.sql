-- Times are microseconds since 1970 in UTC. Columns named after a Go struct hold its JSON.
-- The same text runs on PostgreSQL and SQLite.

-- +goose Up

-- counter hands out numbers. Its row is locked until the end of the transaction, so that
-- numbers have no holes and a submission that comes twice at once is seen the second time.
CREATE TABLE counter (
    name  TEXT PRIMARY KEY,
    value BIGINT NOT NULL
);
INSERT INTO counter (name, value) VALUES ('inquiry', 0), ('letter', 0), ('stock', 0);

CREATE TABLE inquiry (
    id            BIGINT PRIMARY KEY,
    status        TEXT NOT NULL CHECK (status IN ('received', 'measuring', 'needs_photo',
                  'needs_answer', 'ready', 'approved', 'quoted', 'won', 'lost', 'declined',
                  'withdrawn', 'stuck')),
    revision      INTEGER NOT NULL CHECK (revision >= 1),
    version       INTEGER NOT NULL CHECK (version >= 1),
    source        TEXT NOT NULL CHECK (source IN ('web', 'api', 'mail')),
    contact_name  TEXT NOT NULL,
    contact_email TEXT NOT NULL,
    text          TEXT NOT NULL,
    door          TEXT NOT NULL,
    wishes        TEXT NOT NULL,
    overrules     TEXT NOT NULL,
    question      TEXT NOT NULL,
    unread        INTEGER NOT NULL CHECK (unread IN (0, 1)),
    automatic     INTEGER NOT NULL CHECK (automatic IN (0, 1)),
    key_hash      TEXT NOT NULL UNIQUE, -- SHA-256 of the customer's secret key, hex
    key_seed      TEXT NOT NULL,
    once          TEXT UNIQUE,          -- NULL where the sender gave none
    created_us    BIGINT NOT NULL,
    updated_us    BIGINT NOT NULL,
    search        TEXT NOT NULL,        -- what a search looks through, in lower case
    -- what a list shows of the newest proposal and quote
    best          TEXT NOT NULL DEFAULT '',
    top           TEXT NOT NULL DEFAULT '',
    fit           TEXT NOT NULL DEFAULT '',
    p             DOUBLE PRECISION NOT NULL DEFAULT 0,
    total         TEXT NOT NULL DEFAULT ''
);
CREATE INDEX inquiry_by_status ON inquiry (status, created_us);

CREATE TABLE photo (
    inquiry     BIGINT NOT NULL REFERENCES inquiry (id),
    n           INTEGER NOT NULL CHECK (n >= 1),
    sha256      TEXT NOT NULL,
    format      TEXT NOT NULL,
    width_px    INTEGER NOT NULL,
    height_px   INTEGER NOT NULL,
    orientation INTEGER NOT NULL,
    focal_35mm  DOUBLE PRECISION NOT NULL, -- 0 unknown
    file_name   TEXT NOT NULL,
    added_us    BIGINT NOT NULL,
    PRIMARY KEY (inquiry, n)
);

CREATE TABLE message (
    message_id TEXT PRIMARY KEY, -- of an e-mail that belongs to the inquiry
    inquiry    BIGINT NOT NULL REFERENCES inquiry (id)
);

-- intention holds what is to be measured and is not yet: the truth that the queue is filled from.
CREATE TABLE intention (
    inquiry  BIGINT NOT NULL REFERENCES inquiry (id),
    revision INTEGER NOT NULL,
    made_us  BIGINT NOT NULL,
    PRIMARY KEY (inquiry, revision)
);

CREATE TABLE finding (
    inquiry  BIGINT NOT NULL REFERENCES inquiry (id),
    revision INTEGER NOT NULL,
    photo    INTEGER NOT NULL,
    result   TEXT NOT NULL,
    PRIMARY KEY (inquiry, revision, photo)
);

CREATE TABLE proposal (
    inquiry  BIGINT NOT NULL REFERENCES inquiry (id),
    revision INTEGER NOT NULL,
    made_us  BIGINT NOT NULL,
    proposal TEXT NOT NULL,
    PRIMARY KEY (inquiry, revision)
);

CREATE TABLE quote (
    number       TEXT PRIMARY KEY,
    inquiry      BIGINT NOT NULL REFERENCES inquiry (id),
    made_us      BIGINT NOT NULL,
    stock_number TEXT NOT NULL, -- of its first line
    quote        TEXT NOT NULL
);
CREATE INDEX quote_by_inquiry ON quote (inquiry, made_us);

CREATE TABLE event (
    inquiry     BIGINT NOT NULL REFERENCES inquiry (id),
    n           INTEGER NOT NULL,
    at_us       BIGINT NOT NULL,
    by_role     TEXT NOT NULL,
    who         TEXT NOT NULL,
    what        TEXT NOT NULL,
    text        TEXT NOT NULL,
    from_status TEXT NOT NULL,
    to_status   TEXT NOT NULL,
    PRIMARY KEY (inquiry, n)
);

CREATE TABLE letter (
    id         BIGINT PRIMARY KEY,
    key        TEXT NOT NULL UNIQUE,
    inquiry    BIGINT NOT NULL REFERENCES inquiry (id),
    kind       TEXT NOT NULL,
    to_name    TEXT NOT NULL,
    to_email   TEXT NOT NULL,
    subject    TEXT NOT NULL,
    body       TEXT NOT NULL,
    quote      TEXT NOT NULL, -- number of the quote to attach, or ''
    reply_to   TEXT NOT NULL,
    message_id TEXT NOT NULL,
    made_us    BIGINT NOT NULL,
    sent_us    BIGINT         -- NULL until it is sent
);
CREATE INDEX letter_by_inquiry ON letter (inquiry);
CREATE INDEX letter_unsent ON letter (id) WHERE sent_us IS NULL;

CREATE TABLE stock (
    stock_number TEXT PRIMARY KEY,
    item         TEXT NOT NULL
);

CREATE TABLE account (
    name  TEXT PRIMARY KEY,
    hash  TEXT NOT NULL, -- argon2id
    owner INTEGER NOT NULL CHECK (owner IN (0, 1))
);

CREATE TABLE setting (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
);

-- +goose Down
DROP TABLE setting;
DROP TABLE account;
DROP TABLE stock;
DROP TABLE letter;
DROP TABLE event;
DROP TABLE quote;
DROP TABLE proposal;
DROP TABLE finding;
DROP TABLE intention;
DROP TABLE message;
DROP TABLE photo;
DROP TABLE inquiry;
DROP TABLE counter;
