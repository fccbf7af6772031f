"""The page that lies on top of an audit pack: what is in it, and how to recompute it in plain words."""

from typing import Final

README: Final = """\
AUDIT PACK

Made by {product} {version} from revision {revision} of the shop's store.
Asked: {asked}
Times are UTC; months and days are those of the zone {zone}.

WHAT IS HERE
answers/                 each answer as JSON (every figure in full) and as CSV (for a spreadsheet)
readings.csv             every reading: kept, excluded, voided, held (column status), each with the
                         file, row, column and text it came from (id = FILE:ROW:COLUMN, FILE = first
                         12 digits of SHA-256)
readings_as_stored.csv   the same as the store keeps them: lengths in whole 1e-5 um, angles, percent
                         and minutes in whole 1e-5 of theirs, times in microseconds since 1970;
                         limits as the row itself gave them
bores.csv                the one value a bore that charts and indices use, its limits, and the ids
                         behind it
specifications.csv       limits in force, with who says so and since when
gauges.csv, events.csv, builds.csv, machines.csv, plan.csv, settings.csv, set_limits.csv
exclusions.csv           true readings kept out of answers, with scope and reason
choices.csv              what a person chose for one series (kind of chart, family, wanted index,
                         builds that limits are not learned from), with who and why
matters.csv              what people took up, said was done and ended, with initials; a row an act
reactions.csv            what is to be done when a characteristic leaves
voids.csv                readings replaced by others, with the revision that did it
held.csv, findings.csv   what waits for a person, every doubt and how it was decided
revisions.csv            every write: number, time, by whom, by which command, why
files/                   the files the readings came from, to the byte
manifest.json            SHA-256 and size of each of these, revision and version

HOW TO RECOMPUTE WITH A CALCULATOR OR A SPREADSHEET
1. Take one row of answers/capability.csv: it names a series and its window (limits as distances
   from each build's own target where "coded" is true).
2. In bores.csv keep the rows of that series with pass 1, complete true, and that window's lower and
   upper.
3. mean = the mean of the column value. spread_all = its standard deviation with divisor N - 1.
4. With limits on both sides and family normal: pp = (upper - lower) / (6 spread_all), ppk = the
   smaller of (upper - mean) / (3 spread_all) and (mean - lower) / (3 spread_all). With one limit
   only that side counts and pp is not given. With family lognormal take the mean m and the standard
   deviation s of the logarithms and use exp(m), exp(m + 3 s), exp(m - 3 s) instead of mean and 3
   spread_all.
5. A bore value whose column `from` says "{of_readings}" is the mean of deviation_um (value_um, or
   value, where the characteristic is not coded) of the readings it names, repeats at one depth and
   direction averaged first. Form, clearances and other derived values follow the formula named in
   the answer's methods.
6. Any reading can be looked up: find its file by the first 12 digits of its id in files/, go to row
   and column, and compare the text.

HOW THE INTERVALS ARE MADE
Blocks (engines) are the sample, not readings: bores of one block are alike. Intervals come from a
one-way model, bores within blocks, by generalised pivotal quantities with seeded draws; seed and
number stand in `methods`. The interval is that of the long-run index and need not lie evenly about
the printed one.

HOW TO RECOMPUTE EVERYTHING
qc verify {name}
It needs no store. It compares every SHA-256, looks every reading's text up in its file, works out
every answer again from the tables here, and the audit figures a second time by plain arithmetic.
Figures agree to a relative 1e-9.

WHAT THIS IS NOT
Hashes show that a pack was not changed after it was made; they do not show who made it. Compare the
SHA-256 of manifest.json with the one printed when the pack was made. Figures are advice: the engine
maker's data and the responsible machinist decide.
"""
