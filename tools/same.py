#!/usr/bin/env python3
"""Proves that two builds of leafgauge print the same, byte for byte.

For work that must not change what the program says: build the program before and after, and

    python3 tools/same.py OLD_BINARY NEW_BINARY [--photos GLOB...]

runs both over everything that a customer or the counter ever sees, and prints how much was
compared, how much differs, and of each kind the first difference. Exit status: 0 all the same,
1 something differs, 2 the comparison itself failed. It needs nothing but Python 3.

What is compared, each with its exit status and standard error, or its HTTP status and headers:
- measure: every photo of testdata, alone and with its true thickness, as JSON; of some the table,
  the overlay and the drawing; damaged files and other formats. --photos adds photos of one's own,
  each also with the thickness of the truth file beside it, where there is one.
- bench: its table of errors. readings: every line of testdata/readings, and LINES below.
- fit, door, stock, card; every command's --help, and what is refused.
- serve: INQUIRIES and MAILS below, sent by form, API and e-mail, and what the counter does with
  them (Served.counter): every page, answer of the API, letter, PDF and picture, and by a backup
  everything that is kept.
It takes some 450 s of processor time: four to five minutes where two cores have nothing else to do.

Both builds get the same paths, port, time zone and order of things, and are given the findings of
the old one to rank, so that a difference shows where it arises. RULES is all that is taken out
before comparing.
"""
import argparse
import base64
import collections
import concurrent.futures
import datetime
import difflib
import glob
import hashlib
import http.client
import io
import json
import os
import pathlib
import re
import resource
import shutil
import socket
import subprocess
import sys
import tempfile
import textwrap
import time
import traceback
import typing
import urllib.parse
import zipfile
import zlib

ROOT = pathlib.Path(__file__).resolve().parent.parent

# The kinds of things that are compared: the rows of the table.
MEASURE, MEASURE_TOLD, MEASURE_OWN = "measure --json", "measure --json --thickness", "measure, photos of one's own"
MEASURE_TABLE, MEASURE_DRAWN, MEASURE_ODD = "measure, tables", "measure, overlays and drawings", "measure, odd files and flags"
BENCH, READINGS, FIT, DOOR = "bench, table of errors", "readings", "fit", "door"
STOCK, CARD, HELP = "stock", "card", "--help and refusals"
PAGES, API, PDFS, PICTURES, FILES = "serve, pages", "serve, API", "serve, PDFs", "serve, pictures", "serve, files and metrics"
LETTERS, SERVE, KEPT = "serve, letters", "serve, output and mail folders", "serve, all that is kept"
KINDS = [MEASURE, MEASURE_TOLD, MEASURE_OWN, MEASURE_TABLE, MEASURE_DRAWN, MEASURE_ODD, BENCH, READINGS, FIT, DOOR, STOCK, CARD, HELP,
         PAGES, API, PDFS, PICTURES, FILES, LETTERS, SERVE, KEPT]
MEASURED, ANSWERS = (MEASURE, MEASURE_TOLD, MEASURE_OWN, MEASURE_ODD), (PAGES, API, PDFS, PICTURES, FILES)


class Rule(typing.NamedTuple):
    name: str
    where: tuple  # of KINDS
    pattern: str  # of bytes, so \w is ASCII
    put: str
    why: str


# All that is taken out before comparing, in this order. Days stay in: a run over midnight (UTC) is
# refused.
RULES = [
    Rule("step's time", (*MEASURED, API, KEPT), r',\\?"timing_ms\\?":\{[^}]*\}', "", "how long a step took"),
    Rule("bench's times", (BENCH,), r"(?m)^ *(\S+\.jpg) +([\d.]+)(?: +\d+){4} +(\S+) *$", r"\1 \2 (ms) \3", "how long a step took"),
    Rule("bench's medians", (BENCH,), r"(?m)^ *median(?: +\d+){4} *$", "median (ms)", "how long a step took"),
    Rule("bench's head", (BENCH,), r"(?m)^ *photo +megapixels +decode +card +hinge +total +status *$",
         "photo megapixels decode card hinge total status", "its columns are as wide as the times"),
    Rule("bench's memory", (BENCH,), r"peak memory \d+ MB", "peak memory (MB)", "differs from run to run"),
    Rule("key", (PAGES, API, LETTERS, SERVE), r"(?<![0-9A-Za-z])[a-z2-7]{32}(?![0-9A-Za-z])", "(key)",
         "made of a random secret; what is put is the number of the inquiry that it opens"),
    Rule("form's once", (PAGES,), r'(name="once" value=")[A-Z2-7]{26}"', r'\1(once)"', "random, so that a form sent twice is taken in once"),
    Rule("session", (PAGES,), r"(leafgauge_session=)[\w-]+\.[\w-]+", r"\1(session)", "signed with a random key, and holds its end"),
    Rule("token", (API,), r'"token":"[\w-]+\.[\w-]+"', '"token":"(session)"', "signed with a random key, and holds its end"),
    Rule("session's end", (API,), r'"until":"[^"]+"', '"until":"(end)"', "twelve hours from now"),
    Rule("password", (SERVE,), r"(with the password +)[a-z2-7]{16}", r"\1(password)", "made up at random for the demo"),
    Rule("Message-ID", (API, LETTERS, KEPT), r"\b(receipt|retake|question|quote|declined)\.(\d+)\.[0-9a-f]{18}@", r"\1.\2.(tag)@",
         "random, so that nobody can guess it"),
    Rule("boundary", (LETTERS,), r"(?m)^( boundary=|--)[0-9a-f]{60}", r"\1(boundary)", "made up at random between a letter's parts"),
    Rule("letter's date", (LETTERS,), r"(?m)^(Date: \w{3}, \d\d \w{3} \d{4}) \d\d:\d\d:\d\d", r"\1 (time)", "time of day"),
    Rule("letter's leaving", (API,), r'"sent":"[^"]+"', '"sent":"(time)"',
         "up to half a second after the act, so the act's answer may have it or not; it is waited for"),
    Rule("time", (API, SERVE, KEPT), r"(\d{4}-\d\d-\d\dT)\d\d:\d\d:\d\d(?:\.\d+)?Z", r"\1(time)", "time of day"),
    Rule("clock", (PAGES,), r"(\d{1,2} \w{3} \d{4}), \d\d:\d\d", r"\1, (time)", "time of day"),
    Rule("backup's time", (KEPT,), r"(from the backup of \d{1,2} \w+ \d{4}) \d\d:\d\d", r"\1 (time)", "time of day"),
    Rule("PDF's time", (PDFS,), r"(/(?:CreationDate|ModDate) \(D:\d{8})\d{6}", r"\1(time)", "time of day"),
    Rule("HTTP's date", ANSWERS, r"(?m)^(Date: \w{3}, \d\d \w{3} \d{4}) \d\d:\d\d:\d\d", r"\1 (time)", "time of day"),
    Rule("HTTP's length", ANSWERS, r"(?m)^(?:Content-Length: \d+|Transfer-Encoding: chunked)\n", "",
         "follows from the body, which is compared, and from how many digits a time in it has"),
    Rule("age", (PAGES,), r'(data-th="Age">|Age of the oldest</dt><dd>|Half were quoted within</dt><dd>|came in [\w -]+? )(?:under a minute|\d+ minutes?)\b',
         r"\1(age)", "how long an inquiry has waited"),
    Rule("age in figures", (API,), r'"(oldest_open_days|median_hours_to_quote)":[\d.e-]+', r'"\1":"(age)"', "how long an inquiry has waited"),
    Rule("metric", (FILES,), r"(?m)^(leafgauge_.*) \S+$", r"\1 (n)", "seconds, and how often this script had to ask"),
    Rule("moment", (KEPT,), r"(?<=[\[,])1[6-9]\d{14}(?=[,\]])", '"(moment)"', "microseconds since 1970"),
    Rule("secret", (KEPT,), r'("(?:customer_key_secret|session_key)",")[0-9a-f]{64}"', r'\1(secret)"', "random"),
    Rule("key's hash", (KEPT,), r'"[0-9a-f]{64}"(?=,"(?:[0-9a-f]{32}){1,2}",(?:"|null))', '"(hash)"', "of the key"),
    Rule("key's seed", (KEPT,), r'"[0-9a-f]{32}"(?=,null,"\(moment\)",)', '"(seed)"', "random where the sender gave nothing to make it of"),
    Rule("password's hash", (KEPT,), r"(\$argon2id\$[\w=,$]+\$)[A-Za-z0-9+/]{22}\$[A-Za-z0-9+/]+", r"\1(hash)", "salted"),
    Rule("table's hash", (KEPT,), r'"sha256": "[0-9a-f]{64}"', '"sha256": "(hash)"', "of a table with times in it"),
]

# Typed text beyond testdata/readings, each given as an argument.
LINES = [
    "", " ", "3 1/2", "three and a half by three and a half, quarter inch corners", '4" x 4" x .134', "height 89, width 89, thickness 2.2 mm",
    "101,6 x 101,6 mm; 2,5 mm stark", "0.086 thou", "3 1/2 in x 3 in\nleaf 0.09 thick\n5/8 radius", "bar 97 mm, 3.505 x 3.518",
    "two doors 36 x 80 x 1 3/4, three hinges each, fire rated", "door 6'8\" by 2'8\", 1-3/8 thick, oak", "satin nickel, ball bearing, 4 x 4",
    "US26D 4.5 x 4.5 square corners, 5 knuckles", "hole 13/32 from the edge and 5/8 from the end", "screw holes 1-1/2 apart, 3 per leaf",
    "pin is .235, barrel 7/16", "1/4 radius on one leaf, square on the other", "3 1/2 x 3 1/2 or maybe 4 x 4?", "89.0 in x 3.516 in",
    "-3 1/2 x 3", "１０１ mm ＊ ８９ mm", "½ x ¾ x ⅛", "9999999999999 mm", "call 555-0134 about order 2026-11-03", "NaN inch, 1e3 mm, 0x10",
    "left leaf 1 3/4 wide, right leaf 1.75", "half a dozen 3.5 hinges in brass please",
]

DOORS = [
    "", "--width 32in --height 80in --thickness 1-3/8in --core hollow", "--width 36in --height 84in --thickness 1-3/4in --core solid --doors 2",
    "--width 3ft --height 7ft --thickness 45mm --material oak --place outside", "--width 813mm --height 2032mm --thickness 35mm --place wet --use low",
    "--width 36in --height 80in --thickness 1-3/4in --fire-rated --closer --use high", "--weight 61.5 --height 96in --width 42in --material steel",
    "--height 80in --place coastal --use medium --closer", "--height 60in", "--height 120in --width 48in --thickness 2-1/4in --core solid --material pine",
    "--thickness 1-3/8in --inset 1/4in --clearance 1-1/2in", "--doors 40 --height 80in --width 30in", "--height 84in --fire-rated --place outside --weight 90",
    # and what is refused
    "--width tall", "--closer", "--core rubber", "--height 2", "--doors -1", "--place moon",
]

REFUSED = [
    "", "measure", "measure nothing.jpg", "measure testdata/photos/016.jpg --thickness 2.2", "measure testdata/photos/016.jpg --thickness 40mm",
    "measure testdata/photos/016.jpg --scale-bar 10mm", "measure testdata/photos/016.jpg testdata/photos/017.jpg --overlay seen.png",
    "measure testdata/photos/016.jpg --report seen.gif", "measure --loud testdata/photos/016.jpg", "melt", "readings", "fit", "fit nothing.json",
    "bench nothing.jpg", "bench --runs 0 testdata/photos/016.jpg", "stock", "stock import nothing.csv", "stock list --data nothing",
    "stock export --data nothing", "card", "card card.pdf --paper a3", "serve --listen 8080", "serve --currency dollars", "serve --tax-rate eight",
    "serve --role worker", "serve --mail-from us", "serve --base-url hinges.example.org", "serve --valid-days 0", "user add", "backup", "restore nothing",
]

# The photos whose findings are ranked, with what is typed beside them and further flags.
FITS = [
    ("016", ["", "3 1/2 x 3 1/2, 0.080 thick, round corners 5/8 in"], "--finish satin-nickel"),
    ("017", ["", "3.505 in tall, 3.518 in open, leaf 0.095 in thick"], "--finish US15 --bearing ball --count 3 --door-thickness 1-3/8in --door-height 80in"),
    ("018", ["", '3 1/2", 4", 0.090'], "--door-place outside --door-fire-rated --door-closer"),
    ("010", ["", "3 1/2 tall, 3 1/2 open"], "--bearing plain"),
    ("004", ["", "101.4 mm x 101.8 mm, 2.12 mm thick", "101.4 mm x 101.8 mm, 3.4 mm thick"], "--door-inset 1/4in --door-clearance 1in"),
    ("013", ["", "76.1 mm x 76.5 mm"], "--count 5"),
    ("019", ["", "4.000 in x 4.012 in, 0.088 in thick"], "--finish unheard-of"),
]

DRAWN = ["001", "008", "010", "014", "018"]
TABLES = ["002", "007", "010", "015", "019", "023"]


# ---- what both builds are given ----

class Build:
    """One binary, the folder that it runs in, and all that it said."""

    def __init__(self, label, program, folder):
        self.label, self.program, self.folder = label, program, folder
        self.said = {}  # (kind, name): bytes
        self.keys = {}  # key: what stands for it
        folder.mkdir()
        (folder / "testdata").symlink_to(ROOT / "testdata")
        self.environment = {"PATH": os.environ["PATH"], "HOME": str(folder), "TMPDIR": str(folder), "TZ": "UTC", "LANG": "C.UTF-8"}

    def keep(self, kind, name, data):
        name = KEY.sub(self.key, name.encode()).decode()
        if (kind, name) in self.said:
            raise ValueError(f"{kind}, {name}: kept twice")
        for rule in RULES:
            if kind in rule.where:
                data, n = COMPILED[rule.name].subn(self.key if rule.name == "key" else rule.put.encode(), data)
                used[rule.name] += n
        if kind == PAGES and folded_space:
            data = re.sub(rb"\s*(<[^>]*>)\s*", rb"\1", re.sub(rb"\s+", b" ", data))
        self.said[kind, name] = data

    def key(self, match):
        return self.keys.get(match[0].decode(), "(key of nobody)").encode()

    def run(self, *args, stdin=b""):
        try:
            done = subprocess.run([self.program, *args], cwd=self.folder, env=self.environment, input=stdin, capture_output=True, timeout=600)
        except subprocess.TimeoutExpired:
            return "none within ten minutes", b"", b""
        return done.returncode, done.stdout, done.stderr

    def command(self, kind, *args, stdin=b"", name=None, wrote=None):
        """Runs one command and keeps its status, its output and the file that it writes."""
        name = name or " ".join(args)
        status, out, errors = self.run(*args, stdin=stdin)
        self.keep(kind, name, f"exit status {status}\n".encode() + out + (b"standard error:\n" + errors if errors else b""))
        if wrote:
            file = self.folder / wrote
            self.keep(kind, f"{name}: the file", file.read_bytes() if file.exists() else b"not written")


COMPILED = {r.name: re.compile(r.pattern.encode()) for r in RULES}
folded_space = False  # --white-space
KEY = COMPILED["key"]
used = collections.Counter()  # how often each rule found something


def thickness(photo):
    """The flags that tell a photo's true thickness, or none where it is not known."""
    truth = pathlib.Path(photo).with_suffix(".json")
    if not truth.exists():
        return []
    t = json.loads(truth.read_text()).get("hinge", {}).get("thickness")
    return ["--thickness", f"{t:.3f}mm"] if t else []


def work(own):
    """All commands, as functions of a build. Those within one function run one after the other."""
    def one(kind, *args, **more):
        return lambda b: b.command(kind, *args, **more)

    photos = sorted(str(p.relative_to(ROOT)) for p in (ROOT / "testdata/photos").glob("*.jpg"))
    yield lambda b: b.command(BENCH, "bench", "--runs", "1", *photos, name="bench")
    yield lambda b: b.command(BENCH, "bench", "--runs", "1", "--thickness", *photos, name="bench --thickness")
    for p in photos:
        yield one(MEASURE, "measure", "--json", p)
        yield one(MEASURE_TOLD, "measure", "--json", p, *thickness(ROOT / p))
    for p in own:
        yield one(MEASURE_OWN, "measure", "--json", p)
        if told := thickness(p):
            yield one(MEASURE_OWN, "measure", "--json", p, *told)
    for n in TABLES:
        yield one(MEASURE_TABLE, "measure", f"testdata/photos/{n}.jpg")
    for n in DRAWN:
        for what in "overlay", "report":
            for ending in ("png", "jpg") if n == DRAWN[0] else ("png",):
                file = f"{what}-{n}.{ending}"
                yield one(MEASURE_DRAWN, "measure", f"testdata/photos/{n}.jpg", f"--{what}", file, wrote=file)
    yield one(MEASURE_DRAWN, "measure", "testdata/photos/019.jpg", "--overlay", "refused.png", wrote="refused.png")
    for folder in "bad", "formats":
        for p in sorted((ROOT / "testdata" / folder).iterdir()):
            if p.name != "README.md":
                yield one(MEASURE_ODD, "measure", "--json", f"testdata/{folder}/{p.name}")
    for n in "016", "017":
        yield one(MEASURE_ODD, "measure", "--json", "--covariance", f"testdata/photos/{n}.jpg")
    yield one(MEASURE_ODD, "measure", "--json", "testdata/photos/016.jpg", "--scale-bar", "97mm", "--thickness", "82thou")
    yield one(MEASURE_ODD, "measure", "--json", "testdata/photos/016.jpg", "testdata/photos/019.jpg", "testdata/bad/empty.jpg")

    for i, line in enumerate((ROOT / "testdata/readings/lines.txt").read_text().split("\n"), 1):
        if line and not line.startswith("# "):
            text = line.split(" => ")[0].replace("\\n", "\n").encode()
            for flags in [], ["--json"]:
                yield one(READINGS, "readings", *flags, "-", stdin=text, name=f"line {i} {' '.join(flags)}")
    for line in LINES:
        for flags in [], ["--json"]:
            yield one(READINGS, "readings", *flags, "--", line, name=f"{line!r} {' '.join(flags)}")

    for n, texts, flags in FITS:
        for text in texts:
            for more in flags.split(), ["--json"]:
                yield one(FIT, "fit", f"findings/{n}.json", "--stock", "testdata/stock/demo.csv", *(["--readings", text] if text else []), *more)
    yield lambda b: b.command(FIT, "fit", "--json", "-", "--stock", "testdata/stock/demo.csv", name="fit of two photos",
                              stdin=b"".join((b.folder / f"findings/{n}.json").read_bytes() for n in ("016", "012")))
    for flags in DOORS:
        yield one(DOOR, "door", *flags.split())
        yield one(DOOR, "door", "--json", *flags.split())
    for paper in "letter", "a4":
        yield one(CARD, "card", f"{paper}.pdf", "--paper", paper, wrote=f"{paper}.pdf")
    yield stock
    yield helps
    for args in REFUSED:
        yield one(HELP, *args.split(), name=f"leafgauge {args}")


def stock(b):
    """A shelf's list in and out, in a database of its own."""
    def run(*args, **more):
        b.command(STOCK, "stock", *args, **more)

    demo = "testdata/stock/demo.csv"
    rows = (ROOT / demo).read_text().splitlines()
    broken = [rows[0]] + [r.replace(",3,3,", ",3,three,", 1) for r in rows[1:4]] + [rows[1]] + ["H9,,,,"] + [r.replace("1/64", "1/0") for r in rows[4:20]]
    (b.folder / "broken.csv").write_text("\n".join(broken) + "\n")
    (b.folder / "foreign.csv").write_text("Artikel;Höhe mm;Breite mm;Dicke mm;Preis\nA1;101,6;101,6;2,5;4,20\nA2;89;89;2,2;\n")
    (b.folder / "foreign.json").write_text('{"Artikel": "stock number", "Höhe mm": "height", "Breite mm": "open width", "Dicke mm": "thickness", "Preis": "price"}')
    (b.folder / "shelf.xlsx").write_bytes(workbook(["stock number", "description", "height (in)", "open width (in)", "leaf thickness (in)", "price"],
                                                   ["X1", "Hinge 4 x 4 in", "4", "4", "1/8", "5.20"], ["X2", "Hinge 3 1/2", "3-1/2", "3 1/2", "0.085", "4.75"]))
    for file in demo, "broken.csv", "foreign.csv", "shelf.xlsx":
        for flags in [], ["--json"]:
            run("import", "--data", "none", "--dry-run", *flags, file)
    run("import", "--data", "none", "--dry-run", "--map", "foreign.json", "--currency", "EUR", "foreign.csv")
    run("import", "--data", "shelf", "broken.csv")
    run("import", "--data", "shelf", demo)
    run("import", "--data", "shelf", demo, name="the same once more")
    run("import", "--data", "shelf", "--json", "shelf.xlsx")
    run("import", "--data", "shelf", "--map", "foreign.json", "foreign.csv")
    run("list", "--data", "shelf")
    run("list", "--data", "shelf", "--json")
    for text in "satin nickel", "h1042", "nothing such":
        run("list", "--data", "shelf", "--search", text)
    run("export", "--data", "shelf")
    run("export", "--data", "shelf", "shelf.csv", wrote="shelf.csv")
    run("import", "--data", "shelf", "--dry-run", "shelf.csv")
    run("sample", "--data", "shelf", "--dry-run", "H1099", "findings/016.json")
    run("sample", "--data", "shelf", "H1099", "findings/016.json")
    run("sample", "--data", "shelf", "H1001", "findings/016.json")
    run("sample", "--data", "shelf", "H1099", "findings/019.json")
    run("list", "--data", "shelf", "--json", "--search", "H1099")
    b.command(FIT, "fit", "findings/016.json", "--data", "shelf", name="fit against the stock that was imported")


def workbook(*rows):
    """The smallest XLSX file with these rows (ECMA-376, inline strings)."""
    cells = "".join("<row>" + "".join(f'<c t="inlineStr"><is><t>{c}</t></is></c>' for c in r) + "</row>" for r in rows)
    main, office = "http://schemas.openxmlformats.org/spreadsheetml/2006/main", "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    packages, types = "http://schemas.openxmlformats.org/package/2006", "application/vnd.openxmlformats-officedocument.spreadsheetml"
    b = io.BytesIO()
    with zipfile.ZipFile(b, "w") as z:
        z.writestr("[Content_Types].xml", f'<Types xmlns="{packages}/content-types">'
                   '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
                   f'<Override PartName="/xl/workbook.xml" ContentType="{types}.sheet.main+xml"/>'
                   f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{types}.worksheet+xml"/></Types>')
        for file, to, what in ("_rels/.rels", "xl/workbook.xml", "officeDocument"), ("xl/_rels/workbook.xml.rels", "worksheets/sheet1.xml", "worksheet"):
            z.writestr(file, f'<Relationships xmlns="{packages}/relationships"><Relationship Id="r1" Type="{office}/{what}" Target="{to}"/></Relationships>')
        z.writestr("xl/workbook.xml", f'<workbook xmlns="{main}" xmlns:r="{office}"><sheets>'
                   '<sheet name="shelf" sheetId="1" r:id="r1"/></sheets></workbook>')
        z.writestr("xl/worksheets/sheet1.xml", f'<worksheet xmlns="{main}"><sheetData>{cells}</sheetData></worksheet>')
    return b.getvalue()


def helps(b):
    """The help of the program and of every command that a help names."""
    waiting, seen = [()], set()
    while waiting:
        command = waiting.pop(0)
        if command in seen:
            continue
        seen.add(command)
        b.command(HELP, *command, "--help")
        out = b.said[HELP, " ".join((*command, "--help"))].decode()
        _, _, commands = out.partition("\nCommands:\n")
        for name in re.findall(r"(?m)^  ([a-z]+(?: [a-z]+)*)(?:  |$)", commands):
            words = name.split()
            waiting += [tuple(words[:n]) for n in range(1, len(words) + 1)]


# ---- the served program ----

# What customers send by form and API, in this order; inquiry 1 is the demo's own. once is the
# API's Idempotency-Key or the form's own.
INQUIRIES = [
    dict(about="right readings", by="form", photos=["photos/016.jpg"], name="Kim Larkspur", email="kim@customer.example", once="form 1",
         readings="3 1/2 tall and 3 1/2 wide, about 0.080 thick, round corners 5/8 in", wanted="six of them in satin nickel, please",
         door_width="30 in", door_height="80 in", door_thickness="1 3/8", door_core="hollow", door_place="inside", door_use="low"),
    dict(about="height and width swapped", by="api", photos=["photos/018.jpg"], name="Ola", email="ola@customer.example", once="api 1",
         text='3 1/2" high, 4" wide, 0.090 thick'),
    dict(about="a single leaf, no address", by="api", photos=["photos/010.jpg"], wanted_bearing="plain", wanted_finish="US3", wanted_count="4"),
    dict(about="no card in the picture", by="form", photos=["photos/019.jpg"], email="noah@customer.example", once="form 2",
         readings="4.000 in x 4.012 in, 0.088 in thick", door_height="6'8\""),
    dict(about="blurred, nothing typed", by="api", photos=["photos/022.jpg"], name="Zoë \"Zed\" Ångström, Jr.", email="zoe@customer.example"),
    dict(about="two photos", by="form", photos=["photos/012.jpg", "photos/016.jpg"], name="<b>Pat</b> & Co.", email="pat@customer.example", once="form 3",
         readings="3 1/2 x 3 1/2, 0.082; my number is 12-34x", wanted="two"),
    dict(about="a fire door", by="api", photos=["photos/003.jpg"], name="Ann Underhill", email="ann@customer.example", once="api 2",
         readings="101.6 mm, 101.7 mm, 2.24mm", wanted="US26D ball bearing", door_width="36", door_height="84 in", door_thickness="1 3/4 in", door_count="2",
         door_core="solid", door_material="steel", door_place="outside", door_use="high", door_weight="132 lb", door_closer="yes", door_fire_rated="on"),
    dict(about="another hinge's thickness", by="api", photos=["photos/004.jpg"], email="lee@customer.example",
         readings="101.4 mm high, 101.8 mm wide, 3.4 mm thick", door_inset="1/4 in", door_clearance="1 1/2 in"),
    dict(about="a unit slipped", by="form", photos=["photos/005.jpg"], email="uma@customer.example", once="form 4", readings="88.7 in x 3.519 in, 0.096 in thick"),
    dict(about="another hinge", by="api", photos=["photos/004.jpg"], email="hal@customer.example", text="3 x 3 in, 1/4 radius, 0.080 thick"),
    dict(about="other formats", by="api", photos=["formats/small.heic", "formats/lossless.webp"], email="fay@customer.example", text="4 x 4, square"),
]

# E-mails, after those: the file's name, its head, its text, and the files that are attached.
MAILS = [
    ("text", {"From": "Jo Birch <jo@customer.example>", "Message-ID": "<text@customer.example>", "Subject": "hinges"},
     "Hello,\n\nI need six satin nickel hinges 3 1/2 x 3 1/2 with 5/8 radius corners, leaf 0.085 thick.\n\nThanks, Jo\n-- \nJo Birch, 4 x 4 racing\n", []),
    ("photo", {"From": "=?utf-8?q?Ren=C3=A9?= <rene@customer.example>", "Message-ID": "<photo@customer.example>", "Subject": "=?utf-8?q?Scharnier_kaputt?="},
     "it is 3 tall and 3 wide, about 0.090 thick, round corners 1/4 in", ["photos/015.jpg", "formats/tiny.png"]),
    ("robot", {"From": "robot@customer.example", "Message-ID": "<robot@customer.example>", "Subject": "4 1/2 x 4 1/2", "Auto-Submitted": "auto-generated"}, "", []),
    ("useless", {"From": "sam@customer.example", "Message-ID": "<useless@customer.example>", "Subject": "broken hinge"},
     "It squeaks. How soon can you come?", ["bad/not_a_picture.jpg", "bad/one_pixel.png"]),
    ("reply", {"From": "rene@customer.example", "Message-ID": "<reply@customer.example>", "In-Reply-To": "<photo@customer.example>", "Subject": "Re: hinge"},
     "the pin is 1/4 in\n\n> On some day you wrote:\n> how thick is the pin?\n", []),
    ("marked", {"From": "sam@customer.example", "Message-ID": "<marked@customer.example>", "Subject": "Re: A photo of your hinge, please (inquiry 16)"},
     "here it is", ["photos/021.jpg"]),
    ("away", {"From": "jo@customer.example", "Message-ID": "<away@customer.example>", "In-Reply-To": "<text@customer.example>", "Auto-Submitted": "auto-replied",
              "Subject": "Out of office"}, "I am away until Monday.", []),
    ("broken", {}, "\x00\x01 no mail at all", []),
]

# Forms that cannot be taken: by form and by API alike.
UNTAKEN = [
    dict(about="nothing"), dict(about="no photo", readings="3 1/2 x 3 1/2", email="kim@customer.example"),
    dict(about="no picture", photos=["bad/not_a_picture.jpg"], email="kim@customer.example"),
    dict(about="bad pictures", email="kim@customer.example",
         photos=["bad/cut_short.jpg", "bad/empty.jpg", "bad/other_format.gif", "bad/sixty_megapixels.png", "bad/one_pixel.png"]),
    dict(about="too many", photos=["formats/small.jpg"] * 7, email="kim@customer.example"),
    dict(about="bad fields", photos=["formats/small.jpg"], email="kim at home", name="x" * 300, door_width="wide", door_core="rubber",
         door_count="0", door_weight="heavy", wanted_count="many", wanted_bearing="roller", door_place="moon"),
    dict(about="too long", photos=["formats/small.jpg"], email="kim@customer.example", readings="3 1/2 x 3 1/2 " * 9000),
]

# Pages and files that anybody may see.
OPEN = [
    "/", "/door", "/door?door_width=32in&door_height=80in&door_thickness=1-3/8&door_core=hollow", "/door?door_width=wide",
    "/door?door_fire_rated=yes&door_closer=on&door_place=outside&door_use=high", "/problems", "/card.pdf", "/card.pdf?paper=letter",
    "/card.pdf?paper=a4", "/openapi.json", "/healthz", "/readyz", "/static/leafgauge.css", "/static/page.js", "/static/icon.svg",
    "/static/nothing", "/counter", "/counter/", "/counter/inquiries/1", "/counter/sign-in", "/counter/sign-in?to=/counter/stock",
    "/counter/sign-in?to=//elsewhere.example/", "/nothing", "/i/nothing", "/api/v1/nothing", "/api/v1/inquiries",
    "/api/v1/inquiries/nothing", "/api/v1/counter/inquiries", "/api/v1/door?door_height=80in&door_width=36in&door_count=3",
    "/api/v1/door?door_weight=heavy",
]

# Pages and answers of the counter that are no single inquiry's.
LISTS = [
    "/counter/", *("/counter/?" + q for q in (
        "status=all", "status=ready", "status=quoted&status=won", "status=nothing", "turn=counter", "turn=customer", "turn=program",
        "turn=nobody", "q=kim", "q=%2315", "q=h1107", "q=nothing+such", "sort=newest", "sort=updated", "sort=status&status=all", "sort=size",
        "status=all&limit=4", "status=all&limit=4&page=2", "page=0", "limit=9000")),
    "/counter/stock", "/counter/stock?q=satin+nickel+4", "/counter/stock?q=nothing+such", "/counter/figures", "/counter/inquiries/999",
    "/counter/inquiries/one", *("/api/v1/counter/" + q for q in (
        "inquiries", "inquiries?status=all&sort=newest", "inquiries?status=all&limit=3&offset=5", "inquiries?turn=counter&sort=updated",
        "inquiries?sort=size", "inquiries/999", "stock", "stock?q=brass+ball", "figures")),
]

BOUNDARY = "one-part-and-the-next"


class Answer(typing.NamedTuple):
    status: int
    head: str
    headers: dict
    body: bytes

    def kind(self):
        t = self.headers.get("Content-Type", "text/html").split(";")[0]
        return {"text/html": PAGES, "application/json": API, "application/problem+json": API, "application/pdf": PDFS, "image/jpeg": PICTURES}.get(t, FILES)


class Served:
    """One build's program, being served, and its inquiries."""

    def __init__(self, build, port, any_order=True):
        self.build, self.port, self.any_order = build, port, any_order
        self.letters, self.mail = build.folder / "data/mail/out", build.folder / "data/mail/in"
        self.keys = {}  # of inquiries, by their number
        self.cookie = self.token = None  # of the counter, once it has signed in

    def whole(self):
        """Everything from start to stop."""
        b = self.build
        b.command(SERVE, "user", "add", "clerk", "--data", "data", stdin=b"clerk's own password\n")
        b.command(SERVE, "user", "add", "clerk", "--data", "data", stdin=b"short\n", name="user add with a short password")
        args = ["serve", "--listen", f"127.0.0.1:{self.port}", "--data", "data", "--demo", "testdata", "--tax-rate", "8.25"]
        with open(b.folder / "out", "wb") as out, open(b.folder / "log", "wb") as log:
            program = subprocess.Popen([b.program, *args], cwd=b.folder, env=b.environment, stdin=subprocess.DEVNULL, stdout=out, stderr=log)
        try:
            self.wait("the demo inquiry", lambda: b"Ctrl-C" in (b.folder / "out").read_bytes() or self.ended(program))
            self.customers()
            self.counter()
            self.everything()
        finally:
            program.terminate()
            try:
                status = program.wait(timeout=30)
            except subprocess.TimeoutExpired:
                program.kill()
                status = "none: it had to be killed"
        b.keep(SERVE, "output", f"exit status {status}\n".encode() + (b.folder / "out").read_bytes())
        b.keep(SERVE, "log", (b.folder / "log").read_bytes())
        self.kept()

    def ended(self, program):
        if program.poll() is not None:
            raise RuntimeError("serve ended by itself: " + (self.build.folder / "log").read_text())
        return False

    def wait(self, what, happened):
        for _ in range(1800):
            if found := happened():
                return found
            time.sleep(0.1)
        raise RuntimeError(f"waited three minutes for {what}")

    def ask(self, method, path, body=b"", **headers):
        c = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            c.request(method, path, body or None, {k.replace("_", "-"): v for k, v in headers.items()})
            r = c.getresponse()
            head = f"HTTP {r.status} {r.reason}\n" + "".join(f"{k}: {v}\n" for k, v in r.getheaders())
            return Answer(r.status, head, dict(r.getheaders()), r.read())
        finally:
            c.close()

    def keep(self, stage, method, path, a):
        self.build.keep(a.kind(), f"{stage}: {method} {path}", f"{a.head}\n".encode() + a.body)
        return a

    def see(self, stage, path, method="GET", body=b"", **headers):
        """Asks and keeps the answer: with the counter's cookie or token where it is the counter's."""
        if path.startswith("/counter") and self.cookie:
            headers.setdefault("Cookie", self.cookie)
        if path.startswith("/api/v1/counter") and self.token:
            headers.setdefault("Authorization", "Bearer " + self.token)
        return self.keep(stage, method, path, self.ask(method, path, body, **headers))

    def post(self, stage, path, fields, **headers):
        """Sends a plain form."""
        return self.see(stage, path, "POST", urllib.parse.urlencode(fields).encode(), Content_Type="application/x-www-form-urlencoded", **headers)

    def post_json(self, stage, path, fields, **headers):
        return self.see(stage, path, "POST", json.dumps(fields).encode(), Content_Type="application/json", **headers)

    # -- customers --

    def parts(self, fields, photos):
        """A multipart form (RFC 7578)."""
        body = b""
        for name, value in fields.items():
            body += f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for p in photos:
            file = ROOT / "testdata" / p
            body += (f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="photo"; filename="{file.name}"\r\n'
                     "Content-Type: application/octet-stream\r\n\r\n").encode() + file.read_bytes() + b"\r\n"
        return body + f"--{BOUNDARY}--\r\n".encode(), f"multipart/form-data; boundary={BOUNDARY}"

    def send(self, by, about="", photos=(), once="", **fields):
        """Sends an inquiry by form or API; the answer is not kept yet, for its key is new."""
        if by == "form":
            body, kind = self.parts({**fields, "once": once}, photos)
            return self.ask("POST", "/", body, Content_Type=kind)
        body, kind = self.parts(fields, photos)
        return self.ask("POST", "/api/v1/inquiries", body, Content_Type=kind, **({"Idempotency_Key": once} if once else {}))

    def customers(self):
        for path in OPEN:
            self.see("nobody signed in", path)
        for i in UNTAKEN:
            for by in "form", "api":
                self.keep(f"untaken: {i['about']}", "POST", by, self.send(by, **i))
        self.see("untaken: no form", "/api/v1/inquiries", "POST", b"{}", Content_Type="application/json")
        self.see("untaken: broken off", "/api/v1/inquiries", "POST", b"--x\r\nContent", Content_Type="multipart/form-data; boundary=x")
        self.see("untaken: another site", "/", "POST", b"a=b", Content_Type="application/x-www-form-urlencoded", Origin="http://elsewhere.example")
        self.see("another method", "/door", "POST", b"a=b", Content_Type="application/x-www-form-urlencoded")
        self.sign_in()

        demo = json.loads((self.build.folder / "data/demo-receipt.json").read_text())
        self.learn(demo["key"])
        self.look("as measured", 1)
        for i in INQUIRIES:
            a = self.send(**i)
            found = re.search(r'^Location: \S*?/([a-z2-7]{32})$', a.head, re.M)
            if not found:
                raise RuntimeError(f"{i['about']}: not taken in: {a.head}{a.body[:2000]}")
            n = self.learn(found[1])
            self.keep(i["about"], "POST", i["by"], a)
            self.settle(n)
            self.look("as measured", n)
        again = next(i for i in INQUIRIES if i.get("once") == "api 1")
        self.keep("sent again", "POST", "api", self.send(**again))
        self.keep("another one under the same name", "POST", "api", self.send(**{**again, "text": "4 x 4"}))
        for name, head, text, files in MAILS:
            self.by_mail(name, head, text, files)
        self.learn_by_mail()
        for n in range(len(INQUIRIES) + 2, self.count() + 1):
            self.look("as measured", n)

    def learn(self, key):
        """Takes note of the key of an inquiry."""
        n = json.loads(self.ask("GET", f"/api/v1/inquiries/{key}").body)["id"]
        self.keys[n] = key
        self.build.keys[key] = f"(key of {n})"
        return n

    def learn_by_mail(self):
        """Takes note of the keys that only letters have."""
        for file in sorted(self.letters.iterdir()):
            n = int(file.name.split("-")[1])
            if n not in self.keys:
                self.learn(re.search(r"/i/([a-z2-7]{32})", file.read_text())[1])

    def by_mail(self, name, head, text, files):
        lines = [f"{k}: {v}" for k, v in head.items()]
        if files:
            lines += ["MIME-Version: 1.0", f"Content-Type: multipart/mixed; boundary={BOUNDARY}", "",
                      f"--{BOUNDARY}", "Content-Type: text/plain; charset=utf-8", "", text]
            for p in files:
                file = ROOT / "testdata" / p
                lines += [f"--{BOUNDARY}", f"Content-Type: image/{file.suffix[1:].replace('jpg', 'jpeg')}; name={file.name}",
                          "Content-Transfer-Encoding: base64", "", base64.encodebytes(file.read_bytes()).decode().strip()]
            lines += [f"--{BOUNDARY}--", ""]
        else:
            lines += ["", text]
        before, part = self.count(), self.mail / (name + ".part")
        part.write_bytes("\n".join(lines).replace("\n", "\r\n").encode())
        os.utime(part, (time.time() - 60,) * 2)  # as if it had lain there: it is read at once
        part.rename(self.mail / (name + ".eml"))
        self.wait(f"the mail {name}", lambda: not (self.mail / (name + ".eml")).exists())
        for n in range(1, self.count() + 1):
            self.settle(n)
            if n > before and self.dossier(n)["events"][1]["what"] != "note" and not self.any_order:
                raise Unlucky  # it was being measured already when its subject was written down

    # -- the counter --

    def sign_in(self):
        password = (self.build.folder / "data/counter-password.txt").read_text().strip()
        self.post("a wrong password", "/counter/sign-in", {"name": "counter", "password": "guess", "to": "/counter/stock"})
        self.post_json("a wrong password", "/api/v1/sign-in", {"name": "counter", "password": "guess"})
        for name, word in ("clerk", "clerk's own password"), ("counter", password):
            a = self.post(f"sign-in of {name}", "/counter/sign-in", {"name": name, "password": word, "to": "/counter/stock?q=4"})
            self.cookie = a.headers["Set-Cookie"].split(";")[0]
            if name == "clerk":
                self.see("by a clerk", "/counter/figures")
                self.see("by a clerk", "/counter/")
                self.cookie = None
        self.token = json.loads(self.post_json("sign-in", "/api/v1/sign-in", {"name": "counter", "password": password}).body)["token"]

    def dossier(self, n):
        return json.loads(self.ask("GET", f"/api/v1/counter/inquiries/{n}", Authorization="Bearer " + self.token).body)

    def count(self):
        return json.loads(self.ask("GET", "/api/v1/counter/inquiries?status=all", Authorization="Bearer " + self.token).body)["total"]

    def settle(self, n):
        """Waits until an inquiry is measured and its letters are out."""
        def settled():
            d = self.dossier(n)
            return d["inquiry"]["status"] not in ("received", "measuring") and all(not l["sent"].startswith("0001") for l in d["letters"] or [])
        self.wait(f"inquiry {n}", settled)

    def look(self, stage, n):
        """Keeps an inquiry as customer and counter see it."""
        if key := self.keys.get(n):
            self.see(f"{stage}, {n}", f"/api/v1/inquiries/{key}")
            self.see(f"{stage}, {n}", f"/i/{key}")
        self.see(f"{stage}, {n}", f"/api/v1/counter/inquiries/{n}")
        self.see(f"{stage}, {n}", f"/counter/inquiries/{n}")

    def act(self, stage, n, what, **fields):
        """One act by the API."""
        version = self.dossier(n)["inquiry"]["version"]
        self.post_json(f"{stage}, {n}", f"/api/v1/counter/inquiries/{n}/{what}", {"version": version, **fields})
        self.settle(n)

    def act_page(self, stage, n, what, **fields):
        """One act by the review page's forms, and the page that it leads to."""
        version = self.dossier(n)["inquiry"]["version"]
        a = self.post(f"{stage}, {n}", f"/counter/inquiries/{n}", {"version": version, "act": what, **fields})
        self.settle(n)
        if a.status == 303:
            self.see(f"{stage}, {n}", a.headers["Location"])

    def add(self, stage, path, photos=(), **fields):
        body, kind = self.parts(fields, photos)
        return self.see(stage, path, "POST", body, Content_Type=kind)

    def counter(self):
        """What customers and counter do with the inquiries, one after the other."""
        key, page, api = self.keys, "/counter/inquiries/{}".format, "/api/v1/counter/inquiries/{}".format

        # 1 is priced in many ways, approved and taken.
        for fields in {}, {"count": 50}, {"stock_number": "H1099", "each": "4,50"}, {"each": "four"}, {"count": 3000}, {"stock_number": "nothing"}, {"colour": 1}:
            self.post_json(f"price {fields}", api(1) + "/price", {"version": 0, **fields})
        for query in "?stock_number=H1099", "?stock_number=nothing":
            self.see("another hinge", page(1) + query)
        self.act_page("work out", 1, "price", stock_number="H1108", count="5", each="7.25", message="Shall we?")
        self.act_page("no number", 1, "price", count="many")
        self.act("stale", 1, "approve", version=1)
        self.act("approve", 1, "approve", count=3, message="Here it is.\nThe screws come with it.")
        self.act("twice", 1, "approve", count=3)
        self.look("quoted", 1)
        self.post_json("undecided", f"/api/v1/inquiries/{key[1]}/decision", {})
        self.post_json("taken", f"/api/v1/inquiries/{key[1]}/decision", {"take": True, "why": "It fits."})
        self.look("taken", 1)
        self.act_page("read", 1, "read")
        self.act("too late", 1, "decide", won=False)

        # 2 gets another hinge at another price, and turns it down.
        self.act_page("another", 2, "approve", stock_number="H1091", other_stock_number="H1094", count="7", each="9.95", message="Flat black, as you asked.")
        self.post("neither", f"/i/{key[2]}/decide", {})
        self.post("turned down", f"/i/{key[2]}/decide", {"take": "no", "why": "Too dear."})
        self.act_page("note", 2, "note", message="Offer him the brass ones next time.")
        self.act_page("empty note", 2, "note")
        self.act_page("unheard of", 2, "dance")

        # 3 has a slip, which is overruled, and not after all.
        self.act("no slip", 3, "overrule", slip="height:unit", overrule=True)
        self.act("overruled", 3, "overrule", slip="height:swapped", overrule=True)
        self.look("overruled", 3)
        self.act_page("after all", 3, "accept", slip="height:swapped")
        self.act("agreed", 3, "overrule", slip="height:swapped", overrule=False)
        self.look("after all", 3)
        self.act_page("short way", 3, "approve", stock_number="H1266", count="1")
        self.act_page("won", 3, "won", message="by telephone")

        # 4 answers what the program asked.
        self.add("answer", f"/i/{key[4]}/add", text="0.086")
        self.settle(4)
        self.look("answered", 4)
        self.act("ask for a photo", 4, "ask-photo", message="From straight above, please.")
        self.add("the same photo", f"/api/v1/inquiries/{key[4]}/additions", photos=["photos/010.jpg"])
        self.settle(4)
        self.act("no address", 4, "approve")

        # 5 sends a better photo, is asked more, and is declined.
        self.add("a better photo", f"/api/v1/inquiries/{key[5]}/additions", photos=["photos/003.jpg"])
        self.settle(5)
        self.look("better", 5)
        self.act_page("ask", 5, "ask", message="Which way does the door open?")
        self.look("asked", 5)
        self.add("an answer", f"/i/{key[5]}/add", text="Inwards, and the pin is 6 mm")
        self.settle(5)
        self.act_page("decline without a word", 5, "decline")
        self.act_page("decline", 5, "decline", message="We have none of these.\n\nTry a smith.")

        # 6 is asked once more and withdraws.
        self.act_page("ask for a photo without a word", 6, "ask-photo")
        self.act_page("ask for a photo", 6, "ask-photo", message="Sharper, please.")
        self.look("asked", 6)
        for again in "withdrawn", "withdrawn twice":
            self.post(again, f"/i/{key[6]}/withdraw", {})
        self.act("withdrawn already", 6, "approve", stock_number="H1001", count=2)
        self.add("afterwards", f"/i/{key[6]}/add", text="I found one, thank you.")

        # 7 sends what cannot be used, then more; the counter adds a photo.
        self.act("question", 7, "ask")
        self.act("question", 7, "ask-photo", message="Which of the two is it?")
        self.add("nothing", f"/i/{key[7]}/add")
        self.add("no picture", f"/i/{key[7]}/add", photos=["bad/not_a_picture.jpg"], text="This one.")
        self.add("no picture", f"/api/v1/inquiries/{key[7]}/additions", photos=["bad/not_a_picture.jpg"])
        self.add("brought", page(7) + "/add", photos=["photos/014.jpg"], text="the pin is 1/4 in")
        self.settle(7)
        self.look("brought", 7)
        self.add("brought nothing", page(7) + "/add")
        self.act("declined", 7, "decline", message="Two hinges in one question: please send one by itself.")

        # 8, the fire door, is quoted twice and lost.
        self.act("fire door", 8, "approve", message="Keep to the door's label.")
        self.look("quoted", 8)
        self.add("unasked", f"/i/{key[8]}/add", text="one leaf is bent")
        self.act_page("seen", 8, "read")
        self.add("told", api(8) + "/additions", text="holes 13/32 from the edge")
        self.settle(8)
        self.act("once more", 8, "approve", stock_number="H1164", count=12, each="0.01")
        self.act("lost", 8, "decide", won=False, message="bought elsewhere")
        self.act("undecided", 8, "decide")

        # The others are closed in the remaining ways, or left open.
        self.act("empty", 9, "note")
        self.act("note", 9, "note", message="called back")
        self.act("withdrawn", 9, "withdraw")
        self.act_page("agreed", 10, "accept", slip="height:unit")
        self.act_page("one hinge", 11, "overrule", slip="unknown:different_hinge")
        self.look("one hinge", 11)
        self.act_page("by hand", 12, "approve", stock_number="H1167", count="2")
        self.act("no such", 13, "approve", stock_number="h1049")
        self.act_page("closed", 13, "withdraw")
        self.act("by mail", 14, "approve", count=4)
        self.by_mail("taken", {"From": "rene@customer.example", "Message-ID": "<taken@customer.example>", "Subject": "Re: quote",
                               "In-Reply-To": "<photo@customer.example>"}, "Yes, please send them.", [])
        self.act("to a robot", 15, "ask", message="Are you a person?")
        self.learn_by_mail()
        self.add("by a robot", api(15) + "/additions", photos=["photos/009.jpg"])
        self.settle(15)
        self.post("nobody's", page(999), {"version": 1, "act": "note", "message": "x"})
        self.see("no body", api(2) + "/note", "POST", b"{", Content_Type="application/json")
        self.see("by another site", page(2), "POST", b"act=read", Content_Type="application/x-www-form-urlencoded", Sec_Fetch_Site="cross-site")

    def everything(self):
        """All pages, letters and pictures as they stand at last."""
        for n in range(1, self.count() + 1):
            self.settle(n)
            self.look("at last", n)
            d = self.dossier(n)
            for file in "quote", "quote.pdf":
                self.see("at last", f"/api/v1/counter/inquiries/{n}/{file}")
                if key := self.keys.get(n):
                    self.see("at last", f"/api/v1/inquiries/{key}/{file}")
            self.see("at last", f"/counter/inquiries/{n}/quote.pdf")
            for p in d["inquiry"]["photos"]:
                self.see("at last", f"/counter/inquiries/{n}/photos/{p['n']}/overlay")
                self.see("at last", f"/counter/inquiries/{n}/photos/{p['n']}?file=1")
                if key := self.keys.get(n):
                    self.see("at last", f"/i/{key}/photos/{p['n']}")
        self.see("at last", "/counter/inquiries/2/photos/9")
        for path in LISTS:
            self.see("at last", path)
        self.see("at last", "/metrics")
        self.post("at last", "/counter/sign-out", {})

        b = self.build
        for file in sorted(self.letters.iterdir()):
            letter, pdf = without_pdf(file.read_bytes())
            b.keep(LETTERS, file.name, letter)
            if pdf:
                b.keep(PDFS, f"attached to {file.name}", pdf)
        for file in sorted(self.mail.rglob("*")):
            b.keep(SERVE, str(file.relative_to(b.folder)), file.read_bytes() if file.suffix == ".txt" else b"")

    def kept(self):
        b = self.build
        b.command(KEPT, "backup", "--data", "data", "kept")
        for file in sorted((b.folder / "kept").rglob("*")):
            if file.is_file():
                b.keep(KEPT, str(file.relative_to(b.folder)), file.read_bytes())
        b.command(KEPT, "restore", "--data", "restored", "kept")
        b.command(KEPT, "backup", "--data", "restored", "kept-again")
        b.command(KEPT, "stock", "list", "--data", "restored")


class Unlucky(Exception):
    """Two things that the program does side by side came in their rarer order."""


BROKEN_OFF = "broken off"


def serve(build, port):
    """The served part of one build; once more where it was unlucky."""
    for last in False, False, True:
        for kind, name in list(build.said):
            if kind in (*ANSWERS, LETTERS, SERVE, KEPT):
                del build.said[kind, name]
        for folder in "data", "kept", "kept-again", "restored":
            shutil.rmtree(build.folder / folder, ignore_errors=True)
        build.keys.clear()
        try:
            Served(build, port, last).whole()
            return
        except Unlucky:
            pass
        except Exception as e:  # a build that cannot be served any further differs from one that can
            build.said[SERVE, BROKEN_OFF] = repr(e).encode()
            return


def without_pdf(letter):
    """A letter with its attached PDF taken out, where that loses nothing, and the PDF."""
    found = re.search(rb"(?m)^Content-Type: application/pdf;.*\r\n\r\n((?:[A-Za-z0-9+/=]+\r\n)+)", letter)
    if not found:
        return letter, None
    pdf = base64.b64decode(found[1])
    if base64.encodebytes(pdf).replace(b"\n", b"\r\n") != found[1]:
        return letter, None
    return letter[:found.start(1)] + b"(the PDF, compared by itself)\r\n" + letter[found.end(1):], pdf


# ---- comparing ----

def unfolded(value):
    """A text that is JSON as what it says, to any depth; anything else as it is."""
    if isinstance(value, str) and value[:1] in ("{", "["):
        try:
            return unfolded(json.loads(value))
        except ValueError:
            return value
    if isinstance(value, dict):
        return {k: unfolded(v) for k, v in value.items()}
    if isinstance(value, list):
        return [unfolded(v) for v in value]
    return value


def readable(data):
    """Lines to show a difference by; what is compared is always the bytes."""
    try:
        text = data.decode()
    except UnicodeDecodeError:
        head, _, body = data.partition(b"\n\n") if data.startswith(b"HTTP ") else (b"", b"", data)
        lines = head.decode().splitlines()
        if not body.startswith(b"%PDF"):
            return lines + [f"{len(body)} bytes, SHA-256 {hashlib.sha256(body).hexdigest()}"]
        def unpacked(m):
            try:
                return b"stream\n" + zlib.decompress(m[1])
            except zlib.error:
                return m[0]
        body = re.sub(rb"(?s)stream\r?\n(.*?)\r?\nendstream", unpacked, body)
        return lines + body.replace(b"\0", b"").decode("latin-1").splitlines()
    lines = []
    for line in text.split("\n"):
        value = unfolded(line)
        if value is not line:
            lines += json.dumps(value, indent=1, ensure_ascii=False).split("\n")
            continue
        for part in line.replace("><", ">\n<").split("\n"):
            lines += textwrap.wrap(part, 150) or [""]
    return lines


def difference(old, new):
    a, b = readable(old), readable(new)
    if a == b:  # nothing that reading would show
        a, b = repr(old).split("\\n"), repr(new).split("\\n")
    lines = list(difflib.unified_diff(a, b, "old", "new", n=1, lineterm=""))
    shown = [line if len(line) < 240 else line[:240] + "…" for line in lines[:24]]
    return shown + ([f"… and {len(lines) - 24} more lines"] if len(lines) > 24 else [])


def report(old, new):
    """Prints the table and the first difference of each kind; returns how many things differ."""
    differing = collections.defaultdict(list)
    names = list(dict.fromkeys([*old.said, *new.said]))
    for kind, name in names:
        if old.said.get((kind, name)) != new.said.get((kind, name)):
            differing[kind].append(name)
    print(f"{'':36}{'compared':>9}{'differ':>8}")
    for kind in KINDS:
        n = sum(k == kind for k, _ in names)
        if n:
            print(f"{kind:36}{n:9}{len(differing[kind]):8}")
    total = sum(map(len, differing.values()))
    print(f"{'all':36}{len(names):9}{total:8}")
    for kind in KINDS:
        if not differing[kind]:
            continue
        first, *others = differing[kind]
        print(f"\n{kind}: {first}")
        a, b = old.said.get((kind, first)), new.said.get((kind, first))
        print("\n".join(["only the new build has it"] if a is None else ["only the old build has it"] if b is None else difference(a, b)))
        if others:
            print("also: " + "; ".join(others[:6]) + (f"; and {len(others) - 6} more" if len(others) > 6 else ""))
    return total


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("old", type=pathlib.Path)
    parser.add_argument("new", type=pathlib.Path)
    parser.add_argument("--photos", nargs="+", default=[], metavar="GLOB", help="further photos to measure")
    parser.add_argument("--white-space", action="store_true", help="count white space in pages for nothing, for work on the templates' layout")
    args = parser.parse_args()
    global folded_space
    folded_space = args.white_space
    own = sorted(os.path.abspath(p) for g in args.photos for p in glob.glob(g))
    for program in args.old, args.new:
        if not os.access(program, os.X_OK):
            parser.error(f"{program} is no program")
    if args.photos and not own:
        parser.error("no photo is named like that")
    began, today = time.monotonic(), datetime.datetime.now(datetime.timezone.utc).date()
    with tempfile.TemporaryDirectory(prefix="same-") as folder, socket.socket() as free, concurrent.futures.ThreadPoolExecutor(os.cpu_count() + 1) as pool:
        builds = [Build(label, program.absolute(), pathlib.Path(folder) / label) for label, program in (("old", args.old), ("new", args.new))]
        for n in {n for n, *_ in FITS} | {"012"}:
            _, out, _ = builds[0].run("measure", "--json", "--covariance", f"testdata/photos/{n}.jpg")
            for b in builds:
                (b.folder / "findings").mkdir(exist_ok=True)
                (b.folder / f"findings/{n}.json").write_bytes(out)
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
        free.close()
        # The served part mostly waits, so it goes on beside the commands; the builds take turns at the port.
        jobs = [pool.submit(lambda: [serve(b, port) for b in builds])]
        jobs += [pool.submit(f, b) for f in work(own) for b in builds]
        for n, j in enumerate(concurrent.futures.as_completed(jobs), 1):
            j.result()
            if sys.stderr.isatty():
                print(f"\r{n} of {len(jobs)}", end="\r", file=sys.stderr)
        total = report(*builds)
    if idle := [r.name for r in RULES if not used[r.name]]:
        print("\nrules that found nothing: " + ", ".join(idle))
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"\n{time.monotonic() - began:.0f} s, {children.ru_utime + children.ru_stime:.0f} s of processor time")
    broken = [b for b in builds if (SERVE, BROKEN_OFF) in b.said]
    for b in broken:
        print(f"The {b.label} build could not be served to the end: {b.said[SERVE, BROKEN_OFF].decode()}")
    if datetime.datetime.now(datetime.timezone.utc).date() != today:
        print("It went over midnight (UTC): run it again.")
        return 2
    if builds[0] in broken:
        return 2
    print("Not the same." if total else "The same.")
    return 1 if total else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except Exception:
        traceback.print_exc()
        sys.exit(2)
