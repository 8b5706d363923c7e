"""What the words on screens and papers mean: one sentence or two for each.

Pure text; the only place that explains a word. Pages ask for the words that they use.
"""

VOCABULARY: dict[str, str] = {
    "batch": "What you make. Its record is the run.",
    "run": "The record of one batch: readings, what was done, what was found. It is one file.",
    "sheet": "The plan of a batch: ingredients, stages and targets. A run keeps its own copy.",
    "stage": "A part of a batch, such as warming, pouring or the bath. It has a start and an end.",
    "target": "The limits in the sheet for one number, such as 44 to 54 °C.",
    "piece": "One roll, patty or other body that goes into the bath.",
    "lot": "One delivery of an ingredient, with the number on its label.",
    "sensor": "A probe or a scale. It measures one thing.",
    "instrument": "The box on a port. It has one or more sensors.",
    "line format": "How an instrument writes its numbers.",
    "dwell": "How long a piece was in the bath.",
    "setting point": "The temperature at which the fat begins to set. An emulsion colder than that "
    "can break.",
    "met": "The value and all of its uncertainty are within the target.",
    "not met": "The value and all of its uncertainty are outside the target.",
    "too close to call": "The limit is within the uncertainty: the value may be on either side.",
    "not measured": "No sensor measured it, or not for long enough.",
    "for information": "A number without a limit in the sheet.",
    "assumed": "The uncertainty is the widest published one, because nobody said what the sensor "
    "is.",
    "uncertainty": "The number behind ±. About 95 of 100 true values are within it (k = 2).",
    "good batches": "Batches of the same product that you accepted.",
    "usual scatter": "How far good batches differ from each other.",
    "score": "How well a cause fits this run, from 0 to 100. It is not a probability.",
    "event": "Something with a time: the start of a stage, a mark, a pour, an alarm, a note.",
    "dropout": "A time without readings. It is drawn as a gap; nothing is filled in.",
    "acknowledged": "Somebody has pressed Acknowledge. The alarm stays until its cause is gone.",
    "correction": "What a check in ice water, in boiling water or with a weight found. It is added "
    "to every reading after it.",
    "recorder": "The program that reads the instruments and saves the run. It goes on when this "
    "page is closed.",
}
"""By word, in the order in which a beginner meets them."""


def meanings(words: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return some words with their meanings, in the order of the vocabulary.

    Raises
    ------
    KeyError
        If one has no meaning there.
    """
    found = {word: VOCABULARY[word] for word in words}
    return [(word, found[word]) for word in VOCABULARY if word in found]
