from dashboard.app import build_app
from dashboard.help.known import PAGES, known_of
from dashboard.help.panel import draw_known
from logger.words.vocabulary import VOCABULARY
from tests.dashboard.pages import text_of

PATHS = ("/", "/runs", "/runs/20260101-1200-ab12", "/why/20260101-1200-ab12", "/compare")
MORE_PATHS = ("/sheets", "/instruments")


def test_each_page_has_its_own_help(tmp_path):
    assert [known_of(path) for path in (*PATHS, *MORE_PATHS)] == list(PAGES)
    head = build_app(tmp_path).layout.children[6]
    places = [link.href for link in head.children[1].children]
    assert places
    assert set(places) <= set(PATHS) | set(MORE_PATHS)


def test_each_word_that_is_explained_is_one_of_the_vocabulary_and_all_are_used():
    used = {word for page in PAGES for word in page.words}
    assert used == set(VOCABULARY)


def test_help_has_few_things_then_a_first_batch_then_the_words():
    for page in PAGES:
        text = text_of(draw_known(page))
        assert len(page.things) <= 5
        places = [text.index(part) for part in (page.things[0], "five minutes", "Words of")]
        assert places == sorted(places)
        assert all(VOCABULARY[word] in text for word in page.words)
