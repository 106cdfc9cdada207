"""The tables of the logbook's database, and how it is told from other files.

Rooms have stages, stages have takes, a take has a recording (a file named
by its hash) and readings, the newest of which counts. What was removed
keeps its rows and bears the removal that can be undone; `erasure` holds
the recordings whose rows are purged and whose files are still to go.
`description` has the text of a room file for rooms that somebody has described.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping

APPLICATION_ID = 0x726D6972
"""``rmir`` in the header of the file, where SQLite keeps room for it."""

SCHEMA_VERSION = 2
"""Version of the tables below, kept as ``user_version``."""

_DESCRIPTION = """
CREATE TABLE description (
    room_id INTEGER PRIMARY KEY REFERENCES room (id) ON DELETE CASCADE,
    text TEXT NOT NULL
) STRICT"""

SCHEMA = f"""
CREATE TABLE removal (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    removed_at TEXT NOT NULL,
    what TEXT NOT NULL
) STRICT;

CREATE TABLE room (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    name TEXT NOT NULL CHECK (name <> ''),
    volume_m3 REAL CHECK (volume_m3 > 0),
    length_m REAL CHECK (length_m > 0),
    width_m REAL CHECK (width_m > 0),
    height_m REAL CHECK (height_m > 0),
    note TEXT NOT NULL,
    removal_id INTEGER REFERENCES removal (id)
) STRICT;
CREATE UNIQUE INDEX room_name ON room (name) WHERE removal_id IS NULL;

CREATE TABLE stage (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    room_id INTEGER NOT NULL REFERENCES room (id) ON DELETE CASCADE,
    name TEXT NOT NULL CHECK (name <> ''),
    place INTEGER NOT NULL,
    date TEXT,
    done TEXT NOT NULL,
    note TEXT NOT NULL,
    removal_id INTEGER REFERENCES removal (id)
) STRICT;
CREATE UNIQUE INDEX stage_name ON stage (room_id, name) WHERE removal_id IS NULL;

CREATE TABLE recording (
    sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    original_sha256 TEXT NOT NULL CHECK (length(original_sha256) = 64),
    n_bytes INTEGER NOT NULL,
    places_blanked INTEGER NOT NULL
) STRICT;
CREATE INDEX recording_original ON recording (original_sha256);

CREATE TABLE take (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    stage_id INTEGER NOT NULL REFERENCES stage (id) ON DELETE CASCADE,
    sha256 TEXT NOT NULL REFERENCES recording (sha256),
    name TEXT NOT NULL,
    spot TEXT NOT NULL,
    source_position TEXT NOT NULL,
    microphone_position TEXT NOT NULL,
    made_with TEXT NOT NULL,
    recorded_at TEXT,
    recorded_at_from TEXT,
    logged_at TEXT NOT NULL,
    temperature_c REAL,
    humidity_percent REAL CHECK (humidity_percent BETWEEN 0 AND 100),
    note TEXT NOT NULL,
    channel INTEGER CHECK (channel > 0),
    band_set TEXT NOT NULL,
    failure_code TEXT,
    failure_says TEXT,
    failure_remedy TEXT,
    removal_id INTEGER REFERENCES removal (id)
) STRICT;
CREATE UNIQUE INDEX take_sound ON take (sha256) WHERE removal_id IS NULL;
CREATE INDEX take_stage ON take (stage_id);

CREATE TABLE reading (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    take_id INTEGER NOT NULL REFERENCES take (id) ON DELETE CASCADE,
    read_at TEXT NOT NULL,
    roomir_version TEXT NOT NULL,
    mid_s REAL,
    mid_low_s REAL,
    mid_high_s REAL,
    verdict TEXT NOT NULL,
    document TEXT NOT NULL
) STRICT;
CREATE INDEX reading_take ON reading (take_id, id);

CREATE TABLE stage_reading (
    stage_id INTEGER PRIMARY KEY REFERENCES stage (id) ON DELETE CASCADE,
    takes TEXT NOT NULL,
    read_at TEXT NOT NULL,
    roomir_version TEXT NOT NULL,
    mid_s REAL,
    mid_low_s REAL,
    mid_high_s REAL,
    spots INTEGER NOT NULL,
    verdict TEXT NOT NULL,
    document TEXT NOT NULL
) STRICT;

CREATE TABLE erasure (
    sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64)
) STRICT;
{_DESCRIPTION.lstrip()};
"""
"""Every statement that makes an empty logbook of this version."""


def _add_descriptions(connection: sqlite3.Connection) -> None:
    connection.execute(_DESCRIPTION.lstrip())


MIGRATIONS: Mapping[int, Callable[[sqlite3.Connection], None]] = {1: _add_descriptions}
"""What brings the tables from the version that is the key to the next one."""
