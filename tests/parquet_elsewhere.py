"""Reads a data set with pyarrow, a library that is not ours, and holds every cell of it to framefall's own JSON.

Words: FRAMES RADIANTS LAYOUT JSON DECIMALS. FRAMES and RADIANTS are folders or files; LAYOUT is `parted` or `plain`; JSON is
what `framefall frames QUERY --as json` said; DECIMALS is an object of keys and the digits that JSON rounds them to.
Prints one object: counts and sums, for the caller to compare with `--count`.
"""

import datetime
import json
import math
import sys

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.dataset as ds

UTC = datetime.timezone.utc
TYPES = {
    "frame_id": pa.int64(),
    "clock_local": pa.timestamp("us"),
    "night": pa.date32(),
    **dict.fromkeys(["start_utc", "mid_utc", "end_utc", "gps_utc"], pa.timestamp("ms", tz="UTC")),
    **dict.fromkeys(
        "bytes width_px height_px orientation shutter_count session seq trails meteors stars_found".split(), pa.int64()
    ),
    **dict.fromkeys(
        "path file dump format camera make model serial lens utc_offset time_basis turn_basis site place_basis kind kind_evidence"
        " health twilight shower main_shower looked chosen note start_local zone"
        " trail_class meteor_shower pointing point_region sky_signs in_picture".split(),
        pa.string(),
    ),
}


def wanted(key, value):
    """A value of JSON as the column holds it."""
    if value is None:
        return None
    kind = TYPES.get(key, pa.float64())
    if pa.types.is_timestamp(kind):
        moment = datetime.datetime.fromisoformat(value)
        assert (moment.tzinfo is not None) == (kind.tz is not None), (key, value)
        return moment
    if pa.types.is_date(kind):
        return datetime.date.fromisoformat(value)
    return float(value) if pa.types.is_floating(kind) else value


def same(key, held, told, decimals):
    told = wanted(key, told)
    if isinstance(held, float) and isinstance(told, float):
        digits = decimals.get(key)
        within = 0 if digits is None else 0.5 * 10.0**-digits + 1e-12
        return abs(held - told) <= within
    return held == told and type(held) is type(told)


def read(place, layout):
    """A data set and all of it as a table, with the column that folders stand for."""
    years = ds.partitioning(pa.schema([("night_year", pa.int32())]), flavor="hive")
    found = ds.dataset(place, partitioning=years if layout == "parted" else None)
    return found, found.to_table()


def main():
    frames_at, radiants_at, layout, json_at, decimals_at = sys.argv[1:]
    with open(json_at, encoding="utf-8") as file:
        told = json.load(file)
    with open(decimals_at, encoding="utf-8") as file:
        decimals = json.load(file)
    data, frames = read(frames_at, layout)
    _, radiants = read(radiants_at, layout)

    keys = [key for key in told[0] if key not in ("schema", "files", "radiants")]
    names = ["frame_id", *keys] + (["night_year"] if layout == "parted" else [])
    assert frames.column_names == names, (frames.column_names, names)
    for key in ["frame_id", *keys]:
        kind = frames.schema.field(key).type
        assert kind == TYPES.get(key, pa.float64()), (key, kind)

    rows = frames.to_pylist()
    assert len(rows) == len(told), (len(rows), len(told))
    # A path is a frame's own; parts of a data set come in the order of their folders.
    place = {row["path"]: at for at, row in enumerate(told)}
    assert len(place) == len(told)
    if layout == "plain":
        in_order = [row["path"] for row in rows]
        known = [row["path"] for row in told if row["start_utc"] is not None]
        assert in_order[: len(known)] == known
    over = {}
    for row in radiants.to_pylist():
        over.setdefault(row["frame_id"], []).append(row)
    assert len({row["frame_id"] for row in rows}) == len(rows)
    cells = 0
    for row in rows:
        other = told[place[row["path"]]]
        for key in keys:
            assert same(key, row[key], other[key], decimals), (row["path"], key, row[key], other[key])
            cells += 1
        if layout == "parted":
            night = row["night"]
            assert row["night_year"] == (night.year if night else None), row
        mine = sorted(over.pop(row["frame_id"], []), key=lambda one: one["shower"])
        theirs = sorted(other["radiants"], key=lambda one: one["shower"])
        assert len(mine) == len(theirs), (row["path"], mine, theirs)
        for one, two in zip(mine, theirs):
            for key, value in two.items():
                held = one[key]
                assert held == value if key == "shower" else same(key, held, value, decimals), (row["path"], key, held, value)
                cells += 1
    assert not over, "radiants over frames that are not there"

    pruned = None
    if layout == "parted":
        chosen = ds.field("night_year") == 2023
        pruned = [len(list(data.get_fragments(filter=chosen))), len(list(data.get_fragments()))]
        assert data.count_rows(filter=chosen) == sum((row["night"] or "").startswith("2023") for row in told)
    # The least and the greatest value of every group of rows, as the file tells them.
    for fragment in data.get_fragments():
        held = fragment.to_table()
        for group in fragment.row_groups:
            for key, ends in group.statistics.items():
                if key in held.column_names and held[key].type == pa.float64() and len(fragment.row_groups) == 1:
                    least = pc.min_max(held[key]).as_py()
                    assert (ends["min"], ends["max"]) == (least["min"], least["max"]), (key, ends, least)

    gem = pc.field("shower") == "GEM"
    high = radiants.filter(gem & (pc.field("alt_deg") > 30)).select(["frame_id"])
    dark = frames.filter(pc.field("moon_alt_deg") < 0).select(["frame_id"])
    exposure = [row["exposure_s"] for row in told if row["exposure_s"] is not None]
    total = pc.sum(frames["exposure_s"]).as_py()
    assert math.isclose(total or 0.0, math.fsum(exposure), rel_tol=1e-12)
    print(
        json.dumps(
            {
                "frames": frames.num_rows,
                "radiants": radiants.num_rows,
                "cells": cells,
                "gem_high_and_dark": dark.join(high, "frame_id", join_type="inner").num_rows,
                "pruned": pruned,
            }
        )
    )


main()
