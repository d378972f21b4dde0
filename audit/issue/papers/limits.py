"""How much of the attached papers a binder holds; what lies beyond is said in it."""

MOST_SHOWN = 40  # pages of one paper
MOST_SHOWN_IN_ALL = 400  # pages of all papers
SHEETS_BYTES = 24 * 1024 * 1024  # of the pages of one paper, as prepared
EMBEDDED_BYTES = 200 * 1024 * 1024  # of all originals together
MOST_CONTENT = 8 * 1024 * 1024  # bytes of drawing on one page that is placed as filed
DPI = 150  # of a page that is made a picture of
LONGEST_PIXELS = 2600  # of a picture, either way
MOST_WORDS = 600  # letters of a page that are read out
SECONDS = 90  # for one paper
MEMORY_BYTES = 3 * 1024 * 1024 * 1024  # of the process that opens papers
