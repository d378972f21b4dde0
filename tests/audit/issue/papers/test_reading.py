"""ToUnicode maps as ISO 32000-1, 9.10.3, writes them, and what makes a code unreadable."""

import pytest

from audit.issue.papers.reading import UnknownLetters, _mapped


@pytest.mark.parametrize(
    ("cmap", "known"),
    [
        (b"", set()),
        (b"2 beginbfchar <01> <0041> <02> <0062> endbfchar", {1, 2}),
        (b"1 beginbfchar <0003> <00660066> endbfchar", {3}),  # one code, two letters
        (b"1 beginbfrange <10> <13> <0041> endbfrange", {16, 17, 18, 19}),
        (b"1 beginbfrange <10> <12> [<0041> <0000> <0043>] endbfrange", {16, 18}),
        (b"1 beginbfrange <0000> <0001> <DBFFDFFF> endbfrange", set()),  # beyond the last plane for everybody
        (b"3 beginbfchar <01> <0000> <02> <FEFF> <03> <FFFE> endbfchar", set()),  # mean nothing
        (b"1 beginbfchar <01> <E001> endbfchar", set()),  # for private use
        (b"1 beginbfchar <01> <D835DC00> endbfchar", {1}),  # a pair of surrogates: U+1D400
        (b"1 beginbfchar <01> <D835> endbfchar", set()),  # half of a pair
        (b"1 beginbfchar <01> <> endbfchar", set()),
        (b"1 beginbfchar <01> <00> endbfchar", set()),
        (b"1 beginbfchar <0 1> <00\n41> endbfchar 1 beginbfrange <05> <05> <0042> endbfrange", {1, 5}),
    ],
)
def test_which_codes_have_letters(cmap, known):
    assert _mapped(cmap) == known


def test_a_range_without_end_is_not_followed():
    with pytest.raises(UnknownLetters):
        _mapped(b"1 beginbfrange <00000000> <FFFFFFFF> <0041> endbfrange")
