"""Profile traces of honed bores in every form we read, with the texture figures they must give beside them.

A trace repeats one period whose heights follow a material ratio curve of three straight pieces, so that every
figure has a closed form (below); a tilt and a long wave lie under it, which the filters take away. Nothing of
the product is used. `files(folder, seed)` writes the files and `layouts/traces-*.toml`; `python -m
tests.generate.traces FOLDER [SEED]` does it from a shell.

Sources: definitions of ISO 4287 / ISO 21920-2 (Ra, Rz, Rt) and ISO 13565-2 (40 % secant, triangles of equal
area); containers: plain ASCII (first value = spacing, then z, all in um), x-z columns, SDF of ISO 25178-71
(header and types from memory), x3p of ISO 25178-72 (elements from memory).
"""

import hashlib
import io
import math
import random
import struct
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SPACING = 0.5  # um
# um: 21 periods in the evaluation length of 4 mm, so that each height has its share; no multiple of the step,
# lest the same heights come again and make steps; the Gaussian filter passes 2^-17 of it into the mean line
PERIOD = 4000.0 / 21
CUTOFF = 800.0  # um
SHORT = 2.5  # um
SDF_TYPES = {0: "B", 1: "H", 2: "I", 3: "f", 4: "b", 5: "h", 6: "i", 7: "d"}
KINDS = (
    "spacing_first", "columns_headed", "columns_bare", "columns_inch", "sdf_ascii", "sdf_int16", "sdf_int32",
    "sdf_float", "sdf_double", "x3p_binary", "x3p_inline", "x3p_int16",
)  # fmt: skip
ENDINGS = {"spacing_first": "txt", "columns_headed": "asc", "columns_bare": "xz", "columns_inch": "dat"}


@dataclass(frozen=True)
class Curve:
    """Material ratio curve through (0, top), (m1, high), (m2, low), (100 %, bottom); heights in um."""

    top: float
    high: float
    low: float
    bottom: float
    m1: float
    m2: float

    def height(self, ratio: float) -> float:
        """Height above which a share `ratio` (0 to 1) of the profile is material [um]."""
        knots = ((0.0, self.top), (self.m1, self.high), (self.m2, self.low), (1.0, self.bottom))
        for (a, za), (b, zb) in zip(knots, knots[1:], strict=False):
            if ratio <= b:
                return za + (zb - za) * (ratio - a) / (b - a)
        return self.bottom

    @property
    def pieces(self):
        """Share of each straight piece with the heights at its ends."""
        return (
            (self.m1, self.top, self.high), (self.m2 - self.m1, self.high, self.low),
            (1 - self.m2, self.low, self.bottom),
        )  # fmt: skip

    def figures(self) -> dict[str, float]:
        """Figures of the profile in closed form [um, %].

        The middle piece is the flattest and longer than 40 %, so its line is the secant of least slope; what
        stands above and below it are triangles already.
        """
        slope = (self.high - self.low) / (self.m2 - self.m1)
        upper, lower = self.high + slope * self.m1, self.low - slope * (1 - self.m2)
        mr1 = self.m1 * (self.top - upper) / (self.top - self.high)
        mr2 = 1 - (1 - self.m2) * (lower - self.bottom) / (self.low - self.bottom)
        rvk = lower - self.bottom
        mean = sum(share * (a + b) / 2 for share, a, b in self.pieces)
        ra = sum(_mean_size(share, a - mean, b - mean) for share, a, b in self.pieces)
        # the short cut-off rounds the two points of each period: a corner of slope s loses s sigma sqrt(2/pi)
        sigma = math.sqrt(math.log(2) / math.pi) * SHORT / math.sqrt(2 * math.pi)
        half = PERIOD / 2
        lost = (self.top - self.high) / (self.m1 * half) + (self.low - self.bottom) / ((1 - self.m2) * half)
        height = self.top - self.bottom - lost * sigma * math.sqrt(2 / math.pi)
        return {
            "ra": ra, "rz": height, "rk": upper - lower, "rpk": self.top - upper, "rvk": rvk,
            "mr1": 100 * mr1, "mr2": 100 * mr2, "vo": 100 * (1 - mr2) * rvk / 200,
        }  # fmt: skip


# how near a reader must come: what sampling, the rounded corners and the rest of the waves leave
WITHIN = {
    "ra": 0.002, "rz": 0.003, "rk": 0.006, "rpk": 0.015, "rvk": 0.01, "mr1": 0.015, "mr2": 0.002, "vo": 0.008,
}  # fmt: skip


def _mean_size(share: float, a: float, b: float) -> float:
    """Integral of the absolute value of a straight line from a to b over a share."""
    if a * b >= 0:
        return share * (abs(a) + abs(b)) / 2
    return share * (a * a + b * b) / (2 * (abs(a) + abs(b)))


def curve(draw: random.Random) -> Curve:
    """A plateau-honed surface: small peaks, a flat core, deep valleys."""
    core = draw.uniform(0.4, 0.8)
    high, low = core / 2, -core / 2
    return Curve(
        high + draw.uniform(0.25, 0.5), high, low, low - draw.uniform(0.9, 1.6), draw.uniform(0.07, 0.11),
        draw.uniform(0.78, 0.88),
    )  # fmt: skip


def heights(one: Curve, points: int, draw: random.Random, tilt: float = 2e-4) -> list[float]:
    """Heights of a trace [um]: down and up the curve in each period, on a tilt and a wave of 8 mm."""
    phase, wave = draw.uniform(0, PERIOD), draw.uniform(0.05, 0.2)
    found = []
    for i in range(points):
        x = i * SPACING
        u = math.modf((x + phase) / PERIOD)[0]
        found.append(one.height(1 - abs(2 * u - 1)) + tilt * x + wave * math.sin(2 * math.pi * x / 8000))
    return found


def spacing_first(z: list[float]) -> bytes:
    """Plain ASCII: the spacing, then the heights, all in um."""
    return ("\n".join([f"{SPACING}", *(f"{v:.5f}" for v in z)]) + "\n").encode("ascii")


def columns(z: list[float], head: str = "", x_um: float = 1.0, z_um: float = 1.0, mark: str = ".") -> bytes:
    """Two columns, x and z, in units of `x_um` and `z_um` um."""
    lines = [f"{i * SPACING / x_um:.8f}\t{v / z_um:.8f}".replace(".", mark) for i, v in enumerate(z)]
    return (head + "\n".join(lines) + "\n").encode("utf-8")


def sdf(
    z: list[list[float]], kind: int, *, ascii_: bool = False, date: str = "040520260815",
    zscale: float = 1e-9, version: str = "", spacing_m: float = SPACING * 1e-6,
) -> bytes:  # fmt: skip
    """SDF: profiles of heights in um; integers are heights in units of `zscale` metres."""
    whole = kind not in (3, 7)
    values = [v * 1e-6 / zscale for profile in z for v in profile]
    counts: list[Any] = [round(v) for v in values] if whole else values
    version = version or ("aISO-1.0" if ascii_ else "bISO-1.0")
    if ascii_:
        told = {
            "ManufacID": "none", "CreateDate": date, "ModDate": date, "NumPoints": len(z[0]),
            "NumProfiles": len(z), "Xscale": f"{spacing_m:.6E}", "Yscale": "1.0E-03",
            "Zscale": f"{zscale:.6E}", "Zresolution": "-1", "Compression": 0, "DataType": kind,
            "CheckType": 0,
        }  # fmt: skip
        head = version + "\n" + "".join(f"{k:<12}= {v}\n" for k, v in told.items())
        per_line = [f"{v}" if whole else f"{v:.6E}" for v in counts]
        return f"{head}*\n{chr(10).join(per_line)}\n*\n".encode("ascii")
    head = struct.pack(
        "<8s10s12s12sHHddddBBB", version.encode("ascii"), b"none".ljust(10), date.encode("ascii"),
        date.encode("ascii"), len(z[0]), len(z), spacing_m, 1e-3, zscale, -1.0, 0, kind, 0,
    )  # fmt: skip
    return head + struct.pack(f"<{len(counts)}{SDF_TYPES[kind]}", *counts)


def x3p(
    z: list[float], *, inline: bool = False, data_type: str = "D", increment: float = 1e-9,
    feature: str = "PRF", date: str = "2026-05-04T08:15:00", invalid: frozenset[int] = frozenset(),
    mask: bool = False,
) -> bytes:  # fmt: skip
    """x3p: one profile, metres; `invalid` points are NaN, or masked out where `mask`."""
    metres = [v * 1e-6 for v in z]
    parts: dict[str, bytes] = {}
    if inline:
        texts = ("" if i in invalid else f"{v:.6e}" for i, v in enumerate(metres))
        data = "<DataList>" + "".join(f"<Datum>{t}</Datum>" for t in texts) + "</DataList>"
    else:
        form = {"I": "h", "L": "i", "F": "f", "D": "d"}[data_type]
        whole = data_type in "IL"
        shown = [
            math.nan if i in invalid and not mask and not whole else round(v / increment) if whole else v
            for i, v in enumerate(metres)
        ]
        parts["bindata/data.bin"] = struct.pack(f"<{len(shown)}{form}", *shown)
        data = "<DataLink>" + _link("PointDataLink", "MD5ChecksumPointData", "data.bin", parts)
        if mask:
            bits = bytearray((len(z) + 7) // 8)
            for i in range(len(z)):
                bits[i // 8] |= (i not in invalid) << (i % 8)
            parts["bindata/valid.bin"] = bytes(bits)
            data += _link("ValidPointsLink", "MD5ChecksumValidPoints", "valid.bin", parts)
        data += "</DataLink>"
    cz = f"<Increment>{increment!r}</Increment><Offset>0</Offset>" if data_type in "IL" else ""
    parts["main.xml"] = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<p:ISO5436_2 '
        'xmlns:p="http://www.opengps.eu/2008/ISO5436_2"><Record1><Revision>ISO5436 - 2000</Revision>'
        f"<FeatureType>{feature}</FeatureType><Axes><CX><AxisType>I</AxisType><DataType>D</DataType>"
        f"<Increment>{SPACING * 1e-6!r}</Increment><Offset>0</Offset></CX><CY><AxisType>I</AxisType>"
        "<DataType>D</DataType><Increment>1</Increment><Offset>0</Offset></CY><CZ><AxisType>A</AxisType>"
        f"<DataType>{data_type}</DataType>{cz}</CZ></Axes></Record1><Record2><Date>{date}</Date></Record2>"
        f"<Record3><MatrixDimension><SizeX>{len(z)}</SizeX><SizeY>1</SizeY><SizeZ>1</SizeZ>"
        f"</MatrixDimension>{data}</Record3><Record4><ChecksumFile>md5checksum.hex</ChecksumFile></Record4>"
        "</p:ISO5436_2>"
    ).encode()
    parts["md5checksum.hex"] = f"{_md5(parts['main.xml'])} *main.xml\n".encode()
    return zipped(parts)


def _link(link: str, checksum: str, name: str, parts: dict[str, bytes]) -> str:
    data = parts[f"bindata/{name}"]
    return f"<{link}>bindata/{name}</{link}><{checksum}>{_md5(data)}</{checksum}>"


def _md5(data: bytes) -> str:
    return hashlib.md5(data).hexdigest()


def zipped(parts: dict[str, bytes]) -> bytes:
    """A zip of these parts, the same bytes every time."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        for name, data in parts.items():
            book.writestr(zipfile.ZipInfo(name, (2026, 5, 4, 8, 15, 0)), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def content(kind: str, z: list[float]) -> bytes:
    """A trace's heights in one of KINDS."""
    made = {
        "spacing_first": lambda: spacing_first(z),
        "columns_headed": lambda: columns(z, "Profile 3\nx [mm];z [um]\n", 1000.0).replace(b"\t", b";"),
        "columns_bare": lambda: columns(z, mark=","),
        "columns_inch": lambda: columns(z, "x (in)\tz (uin)\n", 25_400.0, 0.0254),
        "sdf_ascii": lambda: sdf([z], 6, ascii_=True),
        "sdf_int16": lambda: sdf([z], 5),
        "sdf_int32": lambda: sdf([z], 6),
        "sdf_float": lambda: sdf([z], 3, zscale=1e-6),
        "sdf_double": lambda: sdf([z], 7, zscale=1e-6, version="bABC-1.0"),
        "x3p_binary": lambda: x3p(z),
        "x3p_inline": lambda: x3p(z, inline=True),
        "x3p_int16": lambda: x3p(z, data_type="I"),
    }
    return made[kind]()


def layout(kind: str) -> str:
    """The layout for the files of one kind."""
    ending = ENDINGS.get(kind, kind.partition("_")[0])
    lines = [
        f'file = ["T-*_{kind.replace("_", "-")}.{ending}"]', "[[trace]]",
        'name = "{build}_{feature}_{station_mm}_{date}_{kind}"', 'machine = "hone-2"',
        'operation = "plateau_hone"', 'state = "plate_off"', 'gauge = "profiler-1"', "cutoff_mm = 0.8",
        "short_cutoff_um = 2.5", "tip_um = 2",
    ]  # fmt: skip
    if kind == "spacing_first":
        lines.append('content = "spacing_first"')
    elif kind.startswith("columns"):
        lines.append('content = "x_z"')
    if kind == "columns_bare":
        lines += ['x_unit = "um"', 'z_unit = "um"']
    return "\n".join(lines) + "\n"


def files(folder: Path, seed: int, kinds: tuple[str, ...] = KINDS, each: int = 1) -> list[dict[str, Any]]:
    """Write traces and their layouts; the truth of each file.

    folder : layouts go into its folder `layouts`, traces beside it
    each : traces of every kind

    A record: `file`, `layout` (both relative to `folder`), `kind`, the identity (`build, machine, operation,
    state, feature, station_mm, gauge, measured_at`), `points`, and `expected`: key of the figure to its
    value and how near it must be met [um, %].
    """
    draw = random.Random(seed)
    (folder / "layouts").mkdir(parents=True, exist_ok=True)
    truth = []
    for kind in kinds:
        rules = folder / "layouts" / f"traces-{kind}.toml"
        rules.write_text(layout(kind), encoding="utf-8")
        for _ in range(each):
            one = curve(draw)
            points = draw.choice((9600, 10_400, 11_201))
            build, feature = f"T-{draw.randint(1000, 9999)}", f"cyl-{draw.randint(1, 8)}"
            station, day = draw.choice((12, 60, 118)), draw.randint(1, 28)
            name = f"{build}_{feature}_{station}_2026-05-{day:02d}_{kind.replace('_', '-')}"
            ending = ENDINGS.get(kind, kind.partition("_")[0])
            (folder / f"{name}.{ending}").write_bytes(content(kind, heights(one, points, draw)))
            expected = {k: (v, WITHIN[k] * v) for k, v in one.figures().items()}
            truth.append({
                "file": f"{name}.{ending}", "layout": f"layouts/{rules.name}", "kind": kind, "build": build,
                "machine": "hone-2", "operation": "plateau_hone", "state": "plate_off", "feature": feature,
                "station_mm": station, "gauge": "profiler-1", "measured_at": f"2026-05-{day:02d}",
                "points": points, "expected": expected,
            })  # fmt: skip
    return truth


if __name__ == "__main__":
    for record in files(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1):
        print(record["file"], {k: round(v, 4) for k, (v, _) in record["expected"].items()})
