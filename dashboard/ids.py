"""Names of everything on a page that a callback reads or writes."""

ADDRESS = "address"  # the location bar
PAGE = "page"  # the view below the header
CHANGED = "changed"  # counts what this page wrote, so that the view is drawn again
NAVIGATION = "navigation"
REVISION = "revision"
PRINTED_HEAD = "printed-head"
UNITS = "units"

DROP = "drop"
DROP_JOB = "drop-job"
DROP_TICK = "drop-tick"
DROP_NEWS = "drop-news"

MATTER_ACT = "matter-act"
MATTER_INITIALS = "matter-initials"
MATTER_SAID = "matter-said"
MATTER_NEWS = "matter-news"

SERIES_PICK = "series-pick"
SERIES_BLOCK = "series-block"
SERIES_RIBBON = "series-ribbon"
SERIES_READINGS = "series-readings"
SERIES_SPREAD = "series-spread"
SERIES_KIND = "series-kind"
SERIES_STRIP = "series-strip"

CHOICE = "choice"  # with what is chosen (chart, family): the value
CHOICE_BY = "choice-by"
CHOICE_WHY = "choice-why"
CHOICE_KEEP = "choice-keep"
CHOICE_NEWS = "choice-news"

MONTH_PICK = "month-pick"
BUILD_PICK = "build-pick"

DOUBT = "doubt"  # number of the finding that the page is about
DOUBT_BY = "doubt-by"
DOUBT_WHY = "doubt-why"
DOUBT_TEXT = "doubt-text"
DOUBT_ACCEPT = "doubt-accept"
DOUBT_CORRECT = "doubt-correct"
DOUBT_DISCARD = "doubt-discard"
DOUBT_UNDO = "doubt-undo"
DOUBT_NEWS = "doubt-news"
