"""Bad input: one clear sentence for each fault, all of them at once, exit status 2.

Every case starts from a copy of the small case in which one thing is made wrong.
"""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from farmcase.__main__ import main

ROOT = Path(__file__).resolve().parents[1]
MOST_LETTERS = 400
Spoil = Callable[[Path], None]


@dataclass(frozen=True)
class Bad:
    """One thing made wrong, and what the one sentence about it must say.

    `at` is a text on the line that the sentence must name ("" for none).
    """

    spoil: Spoil
    file: str
    at: str
    says: tuple[str, ...]


def swap(file: str, old: str, new: str) -> Spoil:
    """Put one text in place of another that stands once in a file."""

    def spoil(folder: Path) -> None:
        path = folder / file
        text = path.read_bytes().decode()
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
        path.write_bytes(text.replace(old, new).encode())

    return spoil


def cell(table: str, identity: str, column: str, value: str) -> Spoil:
    """Put a value in one cell of a table."""

    def spoil(folder: Path) -> None:
        path = folder / f"{table}.csv"
        rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
        row = next(row for row in rows if row[0] == identity)
        row[rows[0].index(column)] = value
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerows(rows)
        path.write_bytes(out.getvalue().encode())

    return spoil


def add(file: str, text: str) -> Spoil:
    """Add lines at the end of a file."""

    def spoil(folder: Path) -> None:
        path = folder / file
        path.write_bytes(path.read_bytes() + text.encode())

    return spoil


def whole(file: str, content: bytes) -> Spoil:
    """Put other content in the place of a whole file."""

    def spoil(folder: Path) -> None:
        (folder / file).write_bytes(content)

    return spoil


def gone(file: str) -> Spoil:
    """Take a file away."""

    def spoil(folder: Path) -> None:
        (folder / file).unlink()

    return spoil


def only_header(table: str) -> Spoil:
    """Leave the header of a table alone."""

    def spoil(folder: Path) -> None:
        path = folder / f"{table}.csv"
        path.write_bytes(path.read_bytes().split(b"\n")[0] + b"\n")

    return spoil


def drop(section: str) -> Spoil:
    """Take a section of case.toml out."""

    def spoil(folder: Path) -> None:
        path = folder / "case.toml"
        start, _, rest = path.read_text(encoding="utf-8").partition(f"[{section}]\n")
        path.write_bytes((start + rest.partition("\n\n")[2]).encode())

    return spoil


def both(*spoils: Spoil) -> Spoil:
    """Make several things wrong."""

    def spoil(folder: Path) -> None:
        for one in spoils:
            one(folder)

    return spoil


def latin(file: str, old: str, new: str) -> Spoil:
    """Put a text in the place of another and save the file as Latin-1."""

    def spoil(folder: Path) -> None:
        swap(file, old, new)(folder)
        path = folder / file
        path.write_bytes(path.read_bytes().decode().encode("latin-1"))

    return spoil


def crop_line(line: str) -> Spoil:
    """Let the first crop state a response of its own."""
    return swap("case.toml", "flushes_kept = 3\n", f"flushes_kept = 3\n{line}\n")


def unheard_of(folder: Path) -> None:
    """Know a species of which no table says what it does in which air."""
    (folder / "reference").mkdir(exist_ok=True)
    (folder / "reference" / "species.csv").write_text("id,species\none,own_one\n")
    swap("case.toml", '"lentinula_edodes"', '"own_one"')(folder)


def without_electricity(folder: Path) -> None:
    """Call the carrier of the mains by another name."""
    drop("bands.night")(folder)
    path = folder / "case.toml"
    text = path.read_text(encoding="utf-8").replace('carrier = "electricity"', 'carrier = "mains"')
    path.write_text(text.replace("[carriers.electricity]", "[carriers.mains]"), encoding="utf-8")


def without_build(folder: Path) -> None:
    """Give every row of capital to the one build."""
    path = folder / "capital.csv"
    path.write_text(re.sub(",(all|bought_unit),", ",self_build,", path.read_text()))


TWELVE = "[1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]"
OWNERS = "owners_money = 20000"
TWO = "[builds.bought_unit.with]\n"
RIGHT_BOARD = 'insulation = "pir_foil_board"\ninsulation_m = 0.055\n'
RIGHT_FACE = 'inner_face = "pvc_cladding"\ninner_face_m = 0.005\n'
RIGHT_WALL = RIGHT_BOARD + RIGHT_FACE
BESIDE = 'touches = { left = "box_main" }'
MADE = 'source = "made for tests"\nstatus = "guess"\n'
ROOF = f"""
[rooms.roof]
build = "all"
kind = "prep"
{MADE}"""
MARKET = "farm_market,all"
PLAN = f"""start_share_by_month.shiitake = {TWELVE}
source = "made for tests"
status = "guess"
"""

BAD: dict[str, Bad] = {
    # files
    "case file missing": Bad(gone("case.toml"), "case.toml", "", ("is missing", "add it")),
    "table missing": Bad(gone("sales.csv"), "sales.csv", "", ("is missing", "add it")),
    "case file empty": Bad(whole("case.toml", b" \n"), "case.toml", "", ("is empty", "fill it")),
    "table empty": Bad(whole("sales.csv", b""), "sales.csv", "", ("is empty", "fill it in")),
    "header alone": Bad(
        only_header("overheads"), "overheads.csv", "id,", ("no rows", "at least one", "add a row")
    ),
    "wrong encoding of a table": Bad(
        latin("sales.csv", "Soup maker", "Café"), "sales.csv", "Caf", ("not UTF-8", "save it again")
    ),
    "wrong encoding of the case file": Bad(
        latin("case.toml", '"Nowhere"', '"Baile Átha Cliath"'),
        "case.toml",
        "Baile",
        ("not UTF-8", "save it again"),
    ),
    "broken TOML": Bad(
        swap("case.toml", OWNERS, "owners_money = = 20000"),
        "case.toml",
        "= =",
        ("owners_money = = 20000", "allowed are lines such as"),
    ),
    "text without quotation marks": Bad(
        swap("case.toml", 'start_month = "2027-03"', "start_month = 2027-03"),
        "case.toml",
        "start_month = 2027",
        ("start_month = 2027-03", "in quotation marks"),
    ),
    "decimal comma in TOML": Bad(
        swap("case.toml", OWNERS, "owners_money = 9,50"),
        "case.toml",
        "9,50",
        ("owners_money = 9,50", "as a point: 9.50"),
    ),
    "thousands mark in TOML": Bad(
        swap("case.toml", OWNERS, "owners_money = 20,000"),
        "case.toml",
        "20,000",
        ("owners_money = 20,000", "write 20000", "without a thousands mark"),
    ),
    "percent in TOML": Bad(
        swap("case.toml", "on_cost_share = 0.12", "on_cost_share = 12 %"),
        "case.toml",
        "12 %",
        ("on_cost_share = 12 %", "write 0.12 for 12 %"),
    ),
    "key twice": Bad(
        swap("case.toml", OWNERS, f"{OWNERS}\nowners_money = 1"),
        "case.toml",
        "owners_money = 1",
        ("cannot overwrite", "name each key once"),
    ),
    # names of keys, sections, columns
    "unknown key": Bad(
        swap("case.toml", OWNERS, f"{OWNERS}\noverdraft_limt = 5"),
        "case.toml",
        "overdraft_limt =",
        ("money.overdraft_limt", "not a known key", "did you mean 'overdraft_limit'"),
    ),
    "unknown key at the top": Bad(
        swap("case.toml", "format = 1", "format = 1\nlocal = 5"),
        "case.toml",
        "local =",
        ("not a known key", "did you mean 'locale'"),
    ),
    "unknown section": Bad(
        add("case.toml", "\n[vessel.pot]\nunits = 1\n"),
        "case.toml",
        "[vessel.pot]",
        ("not a known section", "did you mean 'vessels'"),
    ),
    "table as a section": Bad(
        add("case.toml", "\n[capital.pot]\nunits = 1\n"),
        "case.toml",
        "[capital.pot]",
        ("not a known section", "move it to capital.csv"),
    ),
    "unknown column": Bad(
        swap("sales.csv", ",evidence_date,", ",evidence_dat,"),
        "sales.csv",
        "id,",
        ("'evidence_dat'", "not known", "did you mean 'evidence_date'"),
    ),
    "column twice": Bad(
        swap("sales.csv", ",evidence_date,", ",season,"),
        "sales.csv",
        "id,",
        ("'season'", "stands twice", "remove one"),
    ),
    "column missing": Bad(
        swap("income.csv", ",price_date,", ",note,"),
        "income.csv",
        "id,",
        ("'price_date'", "is missing", "add the column"),
    ),
    "no ids": Bad(
        swap("sales.csv", "id,build", "note,build"), "sales.csv", "note,", ("'id'", "is missing")
    ),
    # numbers
    "text for a number in TOML": Bad(
        swap("case.toml", OWNERS, 'owners_money = "a lot"'),
        "case.toml",
        "a lot",
        ("money.owners_money", "'a lot'", "allowed is a number", "write a number such as"),
    ),
    "number in quotation marks": Bad(
        swap("case.toml", OWNERS, 'owners_money = "20000"'),
        "case.toml",
        '"20000"',
        ("'20000'", "allowed is a number", "write 20000 without quotation marks"),
    ),
    "text for a number in a table": Bad(
        cell("sales", "farm_market", "price_per_kg", "€ 12"),
        "sales.csv",
        MARKET,
        ("sales.farm_market.price_per_kg", "'€ 12'", "a number", "without a currency sign"),
    ),
    "number without end in TOML": Bad(
        swap("case.toml", OWNERS, "owners_money = 1e400"),
        "case.toml",
        "1e400",
        ("is 1e400", "0 or more", "ordinary number"),
    ),
    "number without end in a table": Bad(
        cell("sales", "farm_market", "price_per_kg", "1e400"),
        "sales.csv",
        MARKET,
        ("1e400", "0 or more", "ordinary number"),
    ),
    "whole number of many digits": Bad(
        swap("case.toml", OWNERS, "owners_money = 1" + "0" * 400),
        "case.toml",
        OWNERS[:14],
        ("forty digits", "0 or more", "ordinary number"),
    ),
    "no number in TOML": Bad(
        swap("case.toml", OWNERS, "owners_money = nan"),
        "case.toml",
        "nan",
        ("is nan", "0 or more", "ordinary number"),
    ),
    "no number in a table": Bad(
        cell("sales", "farm_market", "price_per_kg", "nan"),
        "sales.csv",
        MARKET,
        ("'nan'", "allowed is a number"),
    ),
    "true for a number in TOML": Bad(
        swap("case.toml", OWNERS, "owners_money = true"),
        "case.toml",
        "owners_money = true",
        ("is true", "allowed is a number"),
    ),
    "true for a number in a table": Bad(
        cell("sales", "farm_market", "price_per_kg", "true"),
        "sales.csv",
        MARKET,
        ("'true'", "allowed is a number"),
    ),
    "a list for a number": Bad(
        swap("case.toml", OWNERS, "owners_money = [1, 2]"),
        "case.toml",
        "[1, 2]",
        ("[1, 2]", "allowed is a number"),
    ),
    "a number for a list": Bad(
        swap("case.toml", "[0.5, 0.3, 0.2]", "1"),
        "case.toml",
        "flush_shares = 1",
        ("crops.grey_oyster.flush_shares", "is 1", "a list of numbers", "[1, 2, 3]"),
    ),
    "negative price": Bad(
        cell("sales", "farm_market", "packaging_per_kg", "-9.5"),
        "sales.csv",
        MARKET,
        ("packaging_per_kg", "is -9.5", "0 or more", "without a minus sign"),
    ),
    "percent for a share": Bad(
        cell("sales", "farm_market", "fee_share", "12"),
        "sales.csv",
        MARKET,
        ("fee_share", "is 12", "0 to 0.9", "write 0.12 for 12 %"),
    ),
    "percent sign in a table": Bad(
        cell("sales", "farm_market", "fee_share", "12,5 %"),
        "sales.csv",
        MARKET,
        ("fee_share", "'12,5 %'", "write 0.125 for 12,5 %"),
    ),
    "percent for a rate": Bad(
        swap("case.toml", "overdraft_rate_per_year = 0.09", "overdraft_rate_per_year = 9"),
        "case.toml",
        "overdraft_rate",
        ("is 9", "0 to 1", "write 0.09 for 9 %"),
    ),
    "low above high": Bad(
        cell("sales", "farm_market", "price_per_kg_low", "15"),
        "sales.csv",
        MARKET,
        ("price_per_kg", "low 15, likely 12.5, high 14", "put the three in order"),
    ),
    "range without a likely value": Bad(
        cell("sales", "farm_market", "price_per_kg", ""),
        "sales.csv",
        MARKET,
        ("price_per_kg", "no likely value", "add likely"),
    ),
    "decimal comma in a comma file": Bad(
        cell("sales", "farm_market", "fee_share", "0,05"),
        "sales.csv",
        MARKET,
        ("'0,05'", "write 0.05 with a decimal point"),
    ),
    "decimal comma that makes a cell too many": Bad(
        swap("sales.csv", "first,12.5,", "first,12,50,"),
        "sales.csv",
        MARKET,
        ("has 25 cells where the header has 24", "in quotation marks", "with a point"),
    ),
    "thousands mark": Bad(
        cell("overheads", "insurance", "amount", "1,700"),
        "overheads.csv",
        "insurance",
        ("'1,700'", "write 1700 if that is meant"),
    ),
    "row with a cell too few": Bad(
        swap("overheads.csv", "35,,,month", "35,,month"),
        "overheads.csv",
        "phone,",
        ("has 12 cells where the header has 13", "fill it up"),
    ),
    "part of a whole": Bad(
        cell("capital", "lining", "month_paid", "2.5"),
        "capital.csv",
        "lining,",
        ("month_paid", "2.5", "a whole number"),
    ),
    # words and dates
    "two rows with one id": Bad(
        cell("sales", "box_scheme", "id", "farm_market"),
        "sales.csv",
        "Vegetable boxes",
        ("'farm_market' stands on line 2 too", "once", "choose another id"),
    ),
    "id of another form": Bad(
        cell("sales", "box_scheme", "id", "Box scheme"),
        "sales.csv",
        "Vegetable boxes",
        ("'Box scheme'", "small letters", "choose another id"),
    ),
    "date of another form": Bad(
        cell("sales", "farm_market", "price_date", "03/2027"),
        "sales.csv",
        MARKET,
        ("price_date", "'03/2027'", "YYYY-MM", "write for example"),
    ),
    "a day that is none": Bad(
        cell("sales", "farm_market", "price_date", "2026-02-30"),
        "sales.csv",
        MARKET,
        ("'2026-02-30'", "allowed is a date"),
    ),
    "start month of another form": Bad(
        swap("case.toml", '"2027-03"', '"03/2027"'),
        "case.toml",
        "03/2027",
        ("'03/2027'", "YYYY-MM", "2027-03"),
    ),
    "date without quotation marks": Bad(
        swap("case.toml", '"2026-12-31"', "2026-12-31"),
        "case.toml",
        "balance_sheet_date",
        ("is 2026-12-31", "allowed is text", "in quotation marks"),
    ),
    "missing unit": Bad(
        cell("capital", "lining", "unit", ""),
        "capital.csv",
        "lining,",
        ("capital.lining.unit", "is empty", "fill it in"),
    ),
    "unit of another kind": Bad(
        cell("substrate", "straw", "unit", "bale"),
        "substrate.csv",
        "straw,all",
        ("'bale'", "kg, piece", "choose one"),
    ),
    "missing key": Bad(
        swap("case.toml", f"{OWNERS}\n", ""),
        "case.toml",
        "[money]",
        ("money.owners_money", "is missing", "add it"),
    ),
    "missing section": Bad(
        drop("water"),
        "case.toml",
        "",
        ("[water] must be given", "add it"),
    ),
    "yes or no": Bad(
        cell("capital", "lining", "second_hand", "maybe"),
        "capital.csv",
        "lining,",
        ("'maybe'", "yes or no", "write yes or no"),
    ),
    "status": Bad(
        cell("capital", "lining", "status", "guessed"),
        "capital.csv",
        "lining,",
        ("'guessed'", "measured, quoted, published, guess", "did you mean 'guess'"),
    ),
    "status of a range": Bad(
        swap("case.toml", 'a bill", status = "guess"', 'a bill", status = "bill"'),
        "case.toml",
        "a bill",
        ("carriers.electricity.price_per_kwh", "'bill'", "measured, quoted", "choose the one"),
    ),
    "date of a range": Bad(
        swap("case.toml", 'date = "2026-09"', 'date = "last year"'),
        "case.toml",
        "a bill",
        ("carriers.electricity.price_per_kwh", "'last year'", "YYYY-MM"),
    ),
    "unknown currency": Bad(
        swap("case.toml", '"EUR"', '"Euro"'),
        "case.toml",
        "currency",
        ("'Euro'", "ISO 4217", "EUR, GBP or USD"),
    ),
    "unknown currency of a cost": Bad(
        cell("capital", "maker_offer", "cost_currency", "£"),
        "capital.csv",
        "maker_offer",
        ("'£'", "ISO 4217", "EUR, GBP or USD"),
    ),
    "unknown locale": Bad(
        swap("case.toml", '"en_IE"', '"english"'),
        "case.toml",
        "locale",
        ("'english'", "language and country", "en_IE"),
    ),
    "newer format": Bad(
        swap("case.toml", "format = 1", "format = 99"),
        "case.toml",
        "format",
        ("is 99", "reads format 1", "newer farmcase"),
    ),
    # names that lead to others
    "unknown build": Bad(
        cell("sales", "farm_market", "build", "self_buid"),
        "sales.csv",
        MARKET[:11],
        ("'self_buid'", "all, bought_unit, self_build", "did you mean 'self_build'"),
    ),
    "no build": Bad(
        swap("case.toml", 'build = "all"\nkind = "spawn_run"', 'build = ""\nkind = "spawn_run"'),
        "case.toml",
        'build = ""',
        ("rooms.spawn_room.build", "is empty", "write all"),
    ),
    "unknown crop of an outlet": Bad(
        cell("sales", "farm_market", "crop", "grey_oster"),
        "sales.csv",
        MARKET,
        ("'grey_oster'", "known are", "did you mean 'grey_oyster'"),
    ),
    "unknown crop of a plan": Bad(
        swap(
            "case.toml",
            f"start_share_by_month.shiitake = {TWELVE}",
            f"start_share_by_month.shitake = {TWELVE}",
        ),
        "case.toml",
        "shitake",
        ("'shitake'", "known are", "did you mean 'shiitake'"),
    ),
    "unknown recipe": Bad(
        swap("case.toml", 'recipe = "straw_mix"', 'recipe = "straw"'),
        "case.toml",
        'recipe = "straw"',
        ("crops.grey_oyster.recipe", "'straw'", "bought_block, straw_mix", "did you mean"),
    ),
    "unknown pay band": Bad(
        cell("labour", "picking", "pay", "helpers"),
        "labour.csv",
        "picking",
        ("'helpers'", "helper, own", "did you mean 'helper'"),
    ),
    "unknown gate": Bad(
        cell("capital", "lining", "gate", "planning"),
        "capital.csv",
        "lining,",
        ("capital.lining.gate", "'planning'", "known are consent", "choose one"),
    ),
    "unknown season": Bad(
        cell("sales", "farm_market", "season", "summer"),
        "sales.csv",
        MARKET,
        ("'summer'", "known are summer_guests", "did you mean"),
    ),
    "unknown kind of container": Bad(
        swap("case.toml", '"ft40_high_cube_used"', '"ft40_high_cub_used"'),
        "case.toml",
        "ft40_high_cub_used",
        ("containers.box_main.kind", "did you mean 'ft40_high_cube_used'"),
    ),
    "unknown species": Bad(
        swap("case.toml", '"lentinula_edodes"', '"lentinula"'),
        "case.toml",
        '"lentinula"',
        ("crops.shiitake.species", "'lentinula'", "known are", "did you mean"),
    ),
    "unknown container": Bad(
        swap("case.toml", 'container = "box_second"', 'container = "box_third"'),
        "case.toml",
        "box_third",
        ("rooms.fruiting_right.container", "'box_third'", "box_main, box_second"),
    ),
    "unknown carrier": Bad(
        swap("case.toml", '\ncarrier = "bottled_gas"', '\ncarrier = "gas"'),
        "case.toml",
        'carrier = "gas"',
        ("vessels.kettle.carrier", "'gas'", "bottled_gas, electricity"),
    ),
    "unknown item of the scope list": Bad(
        swap("case.toml", 'power_backup = "not_needed"', 'power_back = "not_needed"'),
        "case.toml",
        "power_back ",
        ("builds.self_build.scope.power_back", "did you mean 'power_backup'"),
    ),
    "gate of another build": Bad(
        swap(
            "case.toml",
            'build = "all"\nkind = "planning"',
            'build = "self_build"\nkind = "planning"',
        ),
        "capital.csv",
        "maker_offer",
        ("capital.maker_offer.gate", "'bought_unit' does not have", "correct one"),
    ),
    # builds
    "path that leads nowhere": Bad(
        swap("case.toml", TWO, f'{TWO}"crops.grey_oyster.first_flush_day" = 9\n'),
        "case.toml",
        'first_flush_day"',
        ("leads nowhere", "did you mean 'crops.grey_oyster.first_flush_days'"),
    ),
    "path to no record": Bad(
        swap("case.toml", TWO, f'{TWO}"sales.farm_markt.price_per_kg" = 9\n'),
        "case.toml",
        "farm_markt",
        ("leads nowhere", "did you mean 'sales.farm_market.price_per_kg'"),
    ),
    "wrong value of a build": Bad(
        swap("case.toml", TWO, f'{TWO}"sales.farm_market.price_per_kg" = "much"\n'),
        "case.toml",
        "much",
        ("sales.farm_market.price_per_kg", "'much'", "allowed is a number"),
    ),
    "wrong range of a build": Bad(
        swap("case.toml", "{ low = 90, likely = 110, high = 120 }", "{ low = 90, high = 120 }"),
        "case.toml",
        "low = 90",
        ("starts.wanted_units_per_week", "no likely value", "add likely"),
    ),
    "unknown name in a build": Bad(
        swap("case.toml", TWO, f'{TWO}"vessels.kettle.carrier" = "wood"\n'),
        "case.toml",
        '"wood"',
        ("vessels.kettle.carrier", "'wood'", "bottled_gas, electricity"),
    ),
    "racks of a build that do not fit": Bad(
        swap("case.toml", TWO, f'{TWO}"rooms.fruiting_left.aisle_m" = 1.4\n'),
        "case.toml",
        'aisle_m" = 1.4',
        ("rooms.fruiting_left.aisle_m", "take 2.60 m", "2.23 m wide", "narrower aisle"),
    ),
    "build without capital": Bad(
        without_build,
        "case.toml",
        "[builds.bought_unit]",
        ("no rows in capital.csv", "at least one", "build = bought_unit"),
    ),
    "build without a fruiting room": Bad(
        both(
            swap(
                "case.toml",
                'build = "all"\nkind = "fruiting"',
                'build = "bought_unit"\nkind = "fruiting"',
            ),
            swap("case.toml", 'room = "fruiting_left"\n', ""),
        ),
        "case.toml",
        "[builds.self_build]",
        ("no fruiting room", "at least one", "add one"),
    ),
    "crop without rows for a build": Bad(
        swap("substrate.csv", "block,all", "block,self_build"),
        "case.toml",
        'recipe = "bought_block"',
        ("crops.shiitake.recipe", "'bought_unit' has no rows", "add the build"),
    ),
    # what must add up and fit
    "flush shares": Bad(
        swap("case.toml", "[0.5, 0.3, 0.2]", "[0.5, 0.3, 0.3]"),
        "case.toml",
        "flush_shares = [0.5",
        ("adds up to 1.1", "add up to 1", "give every flush its share"),
    ),
    "more flushes than shares": Bad(
        swap("case.toml", "flushes_kept = 3", "flushes_kept = 4"),
        "case.toml",
        "flushes_kept = 4",
        ("is 4", "3 have a share", "keep no more"),
    ),
    "dry shares": Bad(
        cell("substrate", "bran", "share", "0.15"),
        "substrate.csv",
        "straw,all",
        ("'straw_mix' add up to 1.1", "together are 1", "correct the shares"),
    ),
    "eleven months": Bad(
        swap("case.toml", "[0.7, 0.7, 0.8, 0.9,", "[0.7, 0.8, 0.9,"),
        "case.toml",
        "shares = [0.7, 0.8",
        ("seasons.summer_guests.shares", "has 11 entries", "twelve", "one number for each month"),
    ),
    "eleven months of starts": Bad(
        swap(
            "case.toml",
            f"start_share_by_month.shiitake = {TWELVE}",
            f"start_share_by_month.shiitake = {TWELVE[:-4]}]",
        ),
        "case.toml",
        f"start_share_by_month.shiitake = {TWELVE[:-4]}]",
        ("start_share_by_month.shiitake", "has 11 entries", "twelve", "one share for each month"),
    ),
    "starts above one": Bad(
        swap("case.toml", "[0.3, 0.3, 0.3, 0.3, 0.3, 0.2,", "[0.4, 0.3, 0.3, 0.3, 0.3, 0.2,"),
        "case.toml",
        "start_share_by_month.grey_oyster",
        ("adds up to 1.1", "at most 1", "lower a share"),
    ),
    "a word among the months": Bad(
        swap("case.toml", "[0.3, 0.3, 0.3, 0.3, 0.3, 0.2,", '["few", 0.3, 0.3, 0.3, 0.3, 0.2,'),
        "case.toml",
        '"few"',
        ("start_share_by_month.shiitake", "entry 1 = 'few'", "allowed is a number"),
    ),
    "fruiting room without a plan": Bad(
        drop("plan.fruiting_right"),
        "case.toml",
        "[rooms.fruiting_right]",
        ("has no crop plan", "every fruiting room", "add a section [plan.fruiting_right]"),
    ),
    "plan for no room": Bad(
        add("case.toml", f"\n[plan.cold_room]\n{PLAN}"),
        "case.toml",
        "[plan.cold_room]",
        ("plan.cold_room", "no fruiting room", "fruiting_left, fruiting_right"),
    ),
    "racks too wide": Bad(
        swap(
            "case.toml",
            "aisle_m = 0.9\nend_clearance_m = 0.8",
            "aisle_m = 1.1\nend_clearance_m = 0.8",
        ),
        "case.toml",
        "",
        ("rooms.fruiting_right.rack_depth_m", "take 2.30 m", "2.21 m wide", "fewer rows"),
    ),
    "no place on the racks": Bad(
        swap(
            "case.toml",
            "end_clearance_m = 0.8\nplace_width_m = 0.3",
            "end_clearance_m = 5\nplace_width_m = 1",
        ),
        "case.toml",
        "place_width_m = 1",
        ("rooms.fruiting_right.place_width_m", "is 1", "0.75 m of length are left"),
    ),
    "place deeper than its rack": Bad(
        swap(
            "case.toml",
            "place_width_m = 0.4\nplace_depth_m = 0.3",
            "place_width_m = 0.4\nplace_depth_m = 0.7",
        ),
        "case.toml",
        "place_depth_m = 0.7",
        ("rooms.cold_room.place_depth_m", "0.6 m deep", "make the rack deeper"),
    ),
    "growing room without racks": Bad(
        swap("case.toml", f"{RIGHT_WALL}rack_rows = 2\n", RIGHT_WALL),
        "case.toml",
        "[rooms.fruiting_right]",
        ("has no racks", "needs places", "add rack_rows"),
    ),
    "room thinner than its lining": Bad(
        swap("case.toml", "length_share = 0.18", "length_share = 0.01"),
        "case.toml",
        "length_share = 0.01",
        ("rooms.cold_room.length_share", "lining alone is thicker", "longer"),
    ),
    "room nowhere": Bad(
        add("case.toml", ROOF),
        "case.toml",
        "[rooms.roof]",
        ("neither a container nor an area", "add container or area_m2"),
    ),
    "rooms longer than their container": Bad(
        swap("case.toml", "length_share = 0.18", "length_share = 0.2"),
        "case.toml",
        "length_share = 0.2\n",
        ("rooms.cold_room.length_share", "'box_main'", "makes 1.02", "at most 1", "shorten"),
    ),
    "production too late": Bad(
        swap("case.toml", "production_start_month = 7", "production_start_month = 38"),
        "case.toml",
        "= 38",
        ("builds.self_build.production_start_month", "is 38", "up to month 37", "horizon_months"),
    ),
    "loan drawn too late": Bad(
        swap("case.toml", "drawn_month = 1", "drawn_month = 61"),
        "case.toml",
        "drawn_month",
        ("loans.bank.drawn_month", "is 61", "ends with month 60", "bring it forward"),
    ),
    "capital paid too late": Bad(
        cell("capital", "lining", "month_paid", "61"),
        "capital.csv",
        "lining,",
        ("capital.lining.month_paid", "is 61", "ends with month 60", "bring it forward"),
    ),
    "overhead that never comes": Bad(
        cell("overheads", "phone", "starts_month", "90"),
        "overheads.csv",
        "phone,",
        ("overheads.phone.starts_month", "is 90", "ends with month 60"),
    ),
    "weather that is not there": Bad(
        swap("case.toml", '"normals.csv"', '"dublin.epw"'),
        "case.toml",
        "dublin.epw",
        ("site.weather", "'dublin.epw'", "file in the case folder", "put the file there"),
    ),
    "weather outside the folder": Bad(
        swap("case.toml", '"normals.csv"', '"../other.epw"'),
        "case.toml",
        "other.epw",
        ("'../other.epw'", "file in the case folder"),
    ),
    # rooms that are followed by the hour
    "weather left out": Bad(
        swap("case.toml", 'weather = "normals.csv"\n', ""),
        "case.toml",
        "[site]",
        ("site.weather", "is missing", "add it"),
    ),
    "time zone of no list": Bad(
        swap("case.toml", '"Europe/Dublin"', '"Dublin"'),
        "case.toml",
        '"Dublin"',
        ("site.time_zone", "'Dublin'", "IANA list", "did you mean 'Europe/Dublin'"),
    ),
    "fruiting room under a roof": Bad(
        swap("case.toml", 'container = "box_second"\n', "area_m2 = 14\n"),
        "case.toml",
        "[rooms.fruiting_right]",
        ("rooms.fruiting_right", "in no container", "name its container"),
    ),
    "fruiting room nowhere": Bad(
        swap("case.toml", 'container = "box_second"\n', ""),
        "case.toml",
        "[rooms.fruiting_right]",
        ("rooms.fruiting_right", "in no container", "name its container"),
    ),
    "fruiting room without a climate": Bad(
        drop("climate.fruiting_right"),
        "case.toml",
        "[rooms.fruiting_right]",
        ("has no climate", "each fruiting room", "add a section [climate.fruiting_right]"),
    ),
    "cold store without a climate": Bad(
        drop("climate.cold_room"),
        "case.toml",
        "[rooms.cold_room]",
        ("has no climate", "cold store", "add a section [climate.cold_room]"),
    ),
    "climate for no room": Bad(
        add("case.toml", f"\n[climate.fruiting_rigth]\n{MADE}"),
        "case.toml",
        "[climate.fruiting_rigth]",
        ("is for no room", "rooms are cold_room", "did you mean 'fruiting_right'"),
    ),
    "climate of a covered area": Bad(
        add("case.toml", f"{ROOF}area_m2 = 20\n\n[climate.roof]\n{MADE}"),
        "case.toml",
        "[climate.roof]",
        ("a room in no container", "in containers only", "name the container, or remove"),
    ),
    "heater without power": Bad(
        swap("case.toml", "heat_kw = 1.5", "heat_kw = 0"),
        "case.toml",
        "heat_kw = 0",
        ("climate.spawn_room.heat_kw", "is 0 and heating is 'heater'", "above 0", "data sheet"),
    ),
    "heat pump without a rated COP": Bad(
        swap("case.toml", "rated_cop = 3.6\n", ""),
        "case.toml",
        "[climate.fruiting_right]",
        ("climate.fruiting_right.rated_cop", "is 0 and heating is 'heat_pump'", "above 0"),
    ),
    "heat pump that may give nothing": Bad(
        swap("case.toml", "rated_cop = 3.6", "rated_cop = { low = 0, likely = 3.6, high = 4 }"),
        "case.toml",
        "rated_cop = {",
        ("climate.fruiting_right.rated_cop", "is 0 (low) and heating is", "above 0"),
    ),
    "heat pump of a build without a rated COP": Bad(
        swap("case.toml", TWO, f'{TWO}"climate.spawn_room.heating" = "heat_pump"\n'),
        "case.toml",
        '"climate.spawn_room.heating"',
        ("climate.spawn_room.heating", "is 'heat_pump' and rated_cop is 0", "above 0"),
    ),
    "cooling without power": Bad(
        swap("case.toml", "cool_kw = 1.5", "cool_kw = 0"),
        "case.toml",
        "cool_kw = 0",
        ("climate.cold_room.cool_kw", "is 0 and cooling is 'unit'", "cool_kw must be above 0"),
    ),
    "cooling without a rated EER": Bad(
        swap("case.toml", "rated_eer = 2.5\n", ""),
        "case.toml",
        "[climate.cold_room]",
        ("climate.cold_room.rated_eer", "is 0 and cooling is 'unit'", "data sheet"),
    ),
    "humidifier without water": Bad(
        swap("case.toml", "humidify_l_per_h = 5", "humidify_l_per_h = 0"),
        "case.toml",
        "humidify_l_per_h = 0",
        ("is 0 and humidifier is 'ultrasonic'", "humidify_l_per_h must be above 0"),
    ),
    "set points that cross": Bad(
        swap("case.toml", "heat_to_c = 14\n", "heat_to_c = 20\n"),
        "case.toml",
        "heat_to_c = 20\nheat_kw = 3",
        ("climate.fruiting_right.heat_to_c", "is 20 and cool_to_c 18 (low)", "must be below"),
    ),
    "set points of a build that cross": Bad(
        swap("case.toml", TWO, f'{TWO}"climate.fruiting_right.cool_to_c" = 13\n'),
        "case.toml",
        '"climate.fruiting_right.cool_to_c"',
        ("cool_to_c", "is 13 and heat_to_c 14", "heat_to_c must be below cool_to_c"),
    ),
    "least fresh air above most": Bad(
        swap(
            "case.toml",
            "humidify_l_per_h = 5\nfresh_air_least_m3_per_h = 20",
            "humidify_l_per_h = 5\nfresh_air_least_m3_per_h = 320",
        ),
        "case.toml",
        "= 320",
        ("fresh_air_least_m3_per_h", "is 320 and fresh_air_most_m3_per_h 300", "no more than"),
    ),
    "CO2 below that outside": Bad(
        both(
            swap("case.toml", "supply_kw = 15", "supply_kw = 15\nco2_outside_ppm = 480"),
            swap("case.toml", "co2_most_ppm = 6000", "co2_most_ppm = 470"),
        ),
        "case.toml",
        "co2_most_ppm = 470",
        ("climate.spawn_room.co2_most_ppm", "is 470", "more than the 480", "raise it"),
    ),
    "unknown carrier of heat": Bad(
        swap("case.toml", 'heat_carrier = "bottled_gas"', 'heat_carrier = "bottle_gas"'),
        "case.toml",
        "heat_carrier",
        ("climate.fruiting_left.heat_carrier", "'bottle_gas'", "did you mean 'bottled_gas'"),
    ),
    "no carrier of heat": Bad(
        swap("case.toml", 'heat_carrier = "bottled_gas"', 'heat_carrier = ""'),
        "case.toml",
        "heat_carrier",
        ("climate.fruiting_left.heat_carrier", "is ''", "known are bottled_gas, electricity"),
    ),
    "no electricity": Bad(
        without_electricity,
        "case.toml",
        "",
        ("hold no electricity (known are bottled_gas, mains)", "[carriers.electricity]"),
    ),
    "part of a closed month": Bad(
        swap(
            "case.toml",
            "[climate.cold_room]\n",
            "[climate.cold_room]\nclosed_by_month = [0, 0, 0, 0, 0, 0.5, 0, 0, 0, 0, 0, 0]\n",
        ),
        "case.toml",
        "closed_by_month",
        ("climate.cold_room.closed_by_month", "part of a month", "0 (open) and 1 (closed)"),
    ),
    "band of a carrier that is not followed": Bad(
        swap(
            "case.toml",
            'carrier = "electricity"\nlabel = "Power by night"',
            'carrier = "bottled_gas"\nlabel = "Power by night"',
        ),
        "case.toml",
        'carrier = "bottled_gas"\nlabel = "Power by night"',
        ("bands.night.carrier", "'bottled_gas'", "only electricity is followed by the hour"),
    ),
    "band of an unknown carrier": Bad(
        swap(
            "case.toml",
            'carrier = "electricity"\nlabel = "Power by night"',
            'carrier = "electricty"\nlabel = "Power by night"',
        ),
        "case.toml",
        '"electricty"',
        ("bands.night.carrier", "known are", "did you mean 'electricity'"),
    ),
    "band beyond midnight": Bad(
        swap("case.toml", "from_hour = 23", "from_hour = 25"),
        "case.toml",
        "from_hour",
        ("bands.night.from_hour", "is 25", "allowed is 0 to 24 (h)"),
    ),
    # walls and neighbours
    "unknown insulation": Bad(
        swap("case.toml", RIGHT_BOARD, RIGHT_BOARD.replace("foil", "foyl")),
        "case.toml",
        "foyl",
        ("rooms.fruiting_right.insulation", "known are", "did you mean 'pir_foil_board'"),
    ),
    "unknown inner face": Bad(
        swap("case.toml", RIGHT_WALL, RIGHT_BOARD + RIGHT_FACE.replace("pvc_clad", "pvc_glad")),
        "case.toml",
        "pvc_glad",
        ("rooms.fruiting_right.inner_face", "known are", "did you mean 'pvc_cladding'"),
    ),
    "unknown partition": Bad(
        swap("case.toml", '"sandwich_panel_pir"', '"sandwich"'),
        "case.toml",
        '"sandwich"',
        ("containers.box_main.partition", "'sandwich'", "known are"),
    ),
    "material without numbers": Bad(
        swap("case.toml", '"sandwich_panel_pir"', '"air_gap_wall"'),
        "case.toml",
        '"air_gap_wall"',
        ("containers.box_main.partition", "lacks numbers", "conductivity", "another material"),
    ),
    "insulation of nothing": Bad(
        swap("case.toml", RIGHT_BOARD, "insulation_m = 0.055\n"),
        "case.toml",
        "insulation_m = 0.055",
        ("is 0.055 and insulation is empty", "needs a material", "set insulation_m to 0"),
    ),
    "floor insulation of nothing": Bad(
        swap("case.toml", RIGHT_BOARD, "floor_insulation_m = 0.04\n"),
        "case.toml",
        "floor_insulation_m",
        ("rooms.fruiting_right.floor_insulation_m", "is 0.04 and insulation is empty"),
    ),
    "insulation of a build of nothing": Bad(
        swap("case.toml", TWO, f'{TWO}"rooms.fruiting_right.insulation" = ""\n'),
        "case.toml",
        '"rooms.fruiting_right.insulation"',
        ("rooms.fruiting_right.insulation)", "is empty and insulation_m is 0.055"),
    ),
    "insulation without a thickness": Bad(
        swap("case.toml", RIGHT_BOARD, 'insulation = "eps_board"\n'),
        "case.toml",
        "eps_board",
        ("rooms.fruiting_right.insulation", "without a thickness", "add insulation_m"),
    ),
    "partition without a thickness": Bad(
        swap("case.toml", "partition_m = 0.05\n", ""),
        "case.toml",
        "partition =",
        ("containers.box_main.partition", "without a thickness", "add partition_m"),
    ),
    "box beside itself": Bad(
        swap("case.toml", BESIDE, 'touches = { left = "box_second" }'),
        "case.toml",
        "touches",
        ("containers.box_second.touches.left", "the box itself", "name the box that stands"),
    ),
    "box beside an unknown box": Bad(
        swap("case.toml", BESIDE, 'touches = { left = "box_mane" }'),
        "case.toml",
        "touches",
        ("containers.box_second.touches.left", "known are box_main", "did you mean 'box_main'"),
    ),
    "box beside a box of another build": Bad(
        swap("case.toml", "partition_m =", 'touches = { right = "box_second" }\npartition_m ='),
        "case.toml",
        'touches = { right = "box_second" }',
        ("containers.box_main.touches.right", "the build 'self_build' does not have"),
    ),
    "face of no box": Bad(
        swap("case.toml", BESIDE, 'touches = { side = "box_main" }'),
        "case.toml",
        "touches",
        ("names the face 'side'", "front, back, left, right, roof, floor"),
    ),
    "two boxes at one face": Bad(
        add(
            "case.toml",
            f'\n[containers.box_third]\nbuild = "bought_unit"\nkind = "ft20"\n{BESIDE} #\n{MADE}',
        ),
        "case.toml",
        f"{BESIDE} #",
        ("containers.box_third.touches.left", "at the right of 'box_main' stands another"),
    ),
    "two boxes that touch twice": Bad(
        swap("case.toml", BESIDE, 'touches = { left = "box_main", back = "box_main" }'),
        "case.toml",
        "touches",
        ("containers.box_second.touches.back", "at another face too", "two boxes touch once"),
    ),
    # what a crop does with temperature
    "optimum above the maximum": Bad(
        crop_line("growth_optimum_c = 40"),
        "case.toml",
        "growth_optimum_c = 40",
        ("is 40 and growth_maximum_c 33 (low)", "growth_optimum_c must be below"),
    ),
    "minimum above the optimum": Bad(
        crop_line("growth_minimum_c = 27\ngrowth_reference_c = 28"),
        "case.toml",
        "growth_minimum_c = 27",
        ("is 27 and growth_optimum_c", "growth_minimum_c must be below growth_optimum_c"),
    ),
    "days of the spawn run beyond growth": Bad(
        crop_line("growth_reference_c = 45"),
        "case.toml",
        "growth_reference_c = 45",
        ("is 45 and growth_maximum_c", "growth_reference_c must be below growth_maximum_c"),
    ),
    "optimum below the middle": Bad(
        crop_line("growth_optimum_c = 20"),
        "case.toml",
        "growth_optimum_c = 20",
        ("is 20", "above 22, the middle of growth_minimum_c and _maximum_c", "look up"),
    ),
    "ranges that pass each other": Bad(
        crop_line("fruit_stop_c = { low = 1, likely = 4, high = 14 }"),
        "case.toml",
        "fruit_stop_c =",
        ("is 14 (high) and fruit_reference_c 13.5 (low)", "fruit_stop_c must be below"),
    ),
    "pinning window turned round": Bad(
        crop_line("pin_low_c = 30"),
        "case.toml",
        "pin_low_c = 30",
        ("is 30 and pin_high_c", "pin_low_c must be no more than pin_high_c"),
    ),
    "fruiting band turned round": Bad(
        crop_line("fruit_high_c = 5"),
        "case.toml",
        "[crops.grey_oyster]",
        ("fruit_low_c", "and fruit_high_c 5", "fruit_low_c must be no more than fruit_high_c"),
    ),
    "humidity band turned round": Bad(
        crop_line("fruit_humidity_low_share = 0.99"),
        "case.toml",
        "fruit_humidity_low_share = 0.99",
        ("is 0.99 and fruit_humidity_high_share", "must be no more than"),
    ),
    "pinning longer than the first flush": Bad(
        crop_line("pin_days = 9"),
        "case.toml",
        "pin_days = 9",
        ("is 9 and first_flush_days 8", "pin_days must be below first_flush_days"),
    ),
    "pinning longer than between flushes": Bad(
        both(
            crop_line("pin_days = { low = 3, likely = 4, high = 6 }"),
            swap("case.toml", "{ low = 9, likely = 11, high = 14 }", "4"),
        ),
        "case.toml",
        "pin_days =",
        ("is 4 (likely) and flush_interval_days 4", "must be below flush_interval_days"),
    ),
    "responses that nobody knows": Bad(
        unheard_of,
        "case.toml",
        '"own_one"',
        ("crops.shiitake.species", "not all responses are known", "co2_limit_ppm", "and 2"),
    ),
    "weather of no kind": Bad(
        whole("normals.csv", b"\xff not ours"),
        "normals.csv",
        "",
        ("of no known kind", "known are TMY2, TMY3, EPW", "download it again"),
    ),
    # values of another shape
    "a number for a section": Bad(
        both(drop("learning"), swap("case.toml", "format = 1", "format = 1\nlearning = 5")),
        "case.toml",
        "learning = 5",
        ("is 5", "a section with keys", "write it as [learning]"),
    ),
    "a number for records": Bad(
        both(drop("grants.rural"), swap("case.toml", "format = 1", "format = 1\ngrants = 5")),
        "case.toml",
        "grants = 5",
        ("is 5", "named sections", "[grants.first_one]"),
    ),
    "a number for a record": Bad(
        both(drop("grants.rural"), swap("case.toml", "format = 1", "format = 1\ngrants.rural = 5")),
        "case.toml",
        "grants.rural = 5",
        ("grants.rural", "is 5", "a section with keys"),
    ),
    "a number for changes": Bad(
        swap("case.toml", "[builds.self_build.scope]", "with = 5\n[builds.self_build.scope]"),
        "case.toml",
        "with = 5",
        ("builds.self_build.with", "is 5", "a table of keys and values"),
    ),
}


def sentences(
    folder: Path, capsys: pytest.CaptureFixture[str], command: str = "check"
) -> list[str]:
    """What the command line says of a bad case, a fault a line; its form is checked here."""
    status = main([command, str(folder)])
    said = capsys.readouterr()
    assert status == 2
    assert said.out == ""
    assert "Traceback" not in said.err
    found = said.err.splitlines()
    for sentence in found:
        assert sentence.endswith(".") and not sentence.endswith("..")
        assert len(sentence) < MOST_LETTERS
        assert sentence.count("; ") >= 2, "what was given; what is allowed; what to do"
        assert sentence.isprintable()
    return found


def place(sentence: str) -> tuple[str, int | None]:
    """The file and line that a sentence names."""
    found = re.match(r"([a-z/]+\.(?:csv|toml))(?:, line (\d+))?: ", sentence)
    assert found, sentence
    return found.group(1), int(found.group(2)) if found.group(2) else None


def line_of(folder: Path, file: str, at: str) -> int:
    """The line of a file that holds a text that stands once in it."""
    text = (folder / file).read_bytes().decode("latin-1")
    assert text.count(at) == 1, f"{at!r} stands {text.count(at)} times"
    return text[: text.index(at)].count("\n") + 1


@pytest.mark.parametrize("name", BAD)
def test_bad_input_gets_one_clear_sentence(
    name: str, small_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence with file, line, path, what was given, what is allowed and what to do."""
    bad = BAD[name]
    bad.spoil(small_folder)
    found = sentences(small_folder, capsys)
    assert len(found) == 1, found
    file, line = place(found[0])
    assert file == bad.file
    if bad.at:
        assert line == line_of(small_folder, bad.file, bad.at.encode().decode("latin-1"))
    for words in bad.says:
        assert words in found[0], found[0]


def test_every_command_says_the_same(
    small_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`check` and `decide` refuse the same case in the same words."""
    BAD["negative price"].spoil(small_folder)
    assert sentences(small_folder, capsys) == sentences(small_folder, capsys, "decide")


def test_from_the_command_line(small_folder: Path) -> None:
    """As a user calls it: exit status 2, the sentence on standard error, nothing else."""
    BAD["percent for a share"].spoil(small_folder)
    command = [sys.executable, "-m", "farmcase", "check", str(small_folder)]
    ran = subprocess.run(
        command,
        cwd=small_folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert (ran.returncode, ran.stdout) == (2, "")
    assert ran.stderr == (
        "sales.csv, line 2: fee (sales.farm_market.fee_share) is 12; allowed is 0 to 0.9; "
        "write 0.12 for 12 %.\n"
    )


def test_unknown_case(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A case that is not there: the nearest name, and those that are."""
    (tmp_path / "data" / "cases" / "hill_farm").mkdir(parents=True)
    monkeypatch.chdir(tmp_path)
    assert main(["decide", "hil_farm"]) == 2
    said = capsys.readouterr().err
    assert said == "There is no case 'hil_farm': did you mean 'hill_farm' (known: hill_farm).\n"
    assert main(["decide", "x" * 5000]) == 2
    assert len(capsys.readouterr().err) < MOST_LETTERS


TOGETHER = (
    "negative price",
    "two rows with one id",
    "text for a number in TOML",
    "unknown key at the top",
    "unknown locale",
    "unknown currency",
    "unknown pay band",
    "date of another form",
    "unknown gate",
    "missing unit",
    "path that leads nowhere",
    "eleven months",
    "rooms longer than their container",
    "production too late",
    "row with a cell too few",
    "unknown kind of container",
    "weather that is not there",
    "flush shares",
    "dry shares",
    "heater without power",
    "unknown carrier of heat",
    "material without numbers",
    "box beside itself",
    "time zone of no list",
    "band beyond midnight",
)


def test_all_faults_are_listed_in_one_go(
    small_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Faults of several files at once: every one, in the order of files and lines, none twice."""
    alone = []
    for name in TOGETHER:
        single = Path(shutil.copytree(small_folder, tmp_path / name))
        BAD[name].spoil(single)
        alone += sentences(single, capsys)
    for name in TOGETHER:
        BAD[name].spoil(small_folder)
    found = sentences(small_folder, capsys)
    assert [places for places in map(place, found)] == sorted(map(place, found))
    assert len(found) == len(set(found)) == len(TOGETHER)
    assert sorted(map(without_line, found)) == sorted(map(without_line, alone))
    for sentence in found:
        file, line = place(sentence)
        given = re.findall(r"\(([a-z_.]+)\) ", sentence)
        text = (small_folder / file).read_text(encoding="utf-8").splitlines()[(line or 1) - 1]
        last = given[0].split(".")[-1] if given and file == "case.toml" else ""
        assert last in text, sentence


def without_line(sentence: str) -> str:
    """A sentence without its line, which moves when lines are put in above it."""
    return re.sub(r", line \d+", "", sentence)


def test_broken_toml_does_not_hide_the_tables(
    small_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A case.toml that cannot be read, and faults of rows beside it."""
    for name in ("broken TOML", "negative price", "date of another form"):
        BAD[name].spoil(small_folder)
    found = sentences(small_folder, capsys)
    assert [place(sentence)[0] for sentence in found] == ["case.toml", "sales.csv", "sales.csv"]


def test_a_missing_column_is_said_once(
    small_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Not again for each row."""
    swap("sales.csv", ",crop,", ",note,")(small_folder)
    assert len(sentences(small_folder, capsys)) == 1


def test_lines_are_right_below_texts_of_several_lines(
    small_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Texts and lists over several lines, in case.toml and in a table, do not shift lines."""
    swap("case.toml", 'place = "Nowhere"', 'place = """No\n[money]\nwhere"""')(small_folder)
    swap("case.toml", "[0.5, 0.3, 0.2]", "[\n  0.5, # first\n  0.3,\n  0.2,\n]")(small_folder)
    swap("case.toml", "flushes_kept = 3", "flushes_kept = 0")(small_folder)
    cell("capital", "used_box", "item", "Used box,\ncraned in")(small_folder)
    cell("capital", "lining", "month_paid", "-1")(small_folder)
    found = sentences(small_folder, capsys)
    lines = [line_of(small_folder, "capital.csv", "lining,")]
    lines.append(line_of(small_folder, "case.toml", "flushes_kept = 0"))
    assert [place(sentence)[1] for sentence in found] == lines


def test_an_unclosed_quotation_mark_is_said_at_its_row(
    small_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The row it starts in, not the end of the file."""
    swap("capital.csv", "lining,self_build,shell,Panels", 'lining,self_build,shell,"Panels')(
        small_folder
    )
    found = sentences(small_folder, capsys)
    line = line_of(small_folder, "capital.csv", "lining,")
    assert place(found[0]) == ("capital.csv", line)
    assert "quotation mark" in found[0]


def test_long_texts_are_cut(small_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """However long a name or a value is, the sentence stays one that can be read."""
    long = "very_" * 200
    add("case.toml", f'\n[{long}]\nx = 1\n[gates.{long}]\nx = "{long}"\n')(small_folder)
    cell("sales", "farm_market", "crop", long)(small_folder)
    cell("sales", "box_scheme", "build", long)(small_folder)
    cell("sales", "soup_maker", "price_per_kg", long)(small_folder)
    swap("overheads.csv", ",item,", f",{long},")(small_folder)
    assert len(sentences(small_folder, capsys)) >= 6
