"""Every mistake in a file gives one line: its place, what is wrong, what would be right."""

# A mistake stands on one line, however long, so that the tables read as tables.
# ruff: noqa: E501

from __future__ import annotations

import pytest

from checklist_files import AIRCRAFT, MARK, PROCEDURES, VOICE, edited, errors_of, load
from runner.checklist.problems import FileErrors

FILES = {"procedures": ("p.yaml", PROCEDURES), "aircraft": ("a.yaml", AIRCRAFT)}
FILES["voice"] = ("v.yaml", VOICE)


def expect(kind: str, old: str, new: str, message: str) -> None:
    file, text = FILES[kind]
    bad, place = edited(text, old, new)
    assert errors_of(kind, bad)[:1] and MARK in new
    found = errors_of(kind, bad)
    assert [line for line in found if line.startswith(f"{file}:{place}: ") and message in line], (
        f"{file}:{place}: {message}\n" + "\n".join(found)
    )
    assert len(found) == 1, found


PROCEDURE_MISTAKES = [
    ("runner: 1", "runner: ¦2", "this Runner reads files of version 1, not '2'"),
    ("runner: 1\n", "¦", "needs the key 'runner'"),
    ("about: Inv", "¦abuot: Inv", "'abuot' is not a key of a procedures file; did you mean 'about'"),
    ("about: Inv", "¦zzz: Inv", "'zzz' is not a key of a procedures file; its keys are runner"),
    ("voice: cockpit", "¦voice:", "'voice' has no value"),
    ("voice: cockpit", "voice: ¦[cockpit]", "'voice' is one line of text; a text that starts"),
    ("voice: cockpit", "voice: ¦{a: b}", "a text that starts with '{' needs quotes"),
    ("  gear_up:\n    said: gear coming up", "  ¦Gear up: {said: x y}\n  gear_up: {said: z z}", "not an id"),
    ("    said: gear coming up", "    ¦name: gear up", "the moment 'gear_up' can never come"),
    ("gear_up:\n    said: gear coming up", "gear_up: ¦gear coming up", "has keys of its own"),
    ("said: gear coming up", "said: (gear /¦ ", "words are missing here"),
    ("said: gear coming up", "said: gear <¦nothing> up", "'nothing' is not an input or a figure"),
    ("when: airspeed > 40 kt", "when: airspeed ¦> 40 ft", "cannot compare a speed (kt) and a length (ft)"),
    ("when: airspeed >", "when: ¦air_speed >", "nothing is named air_speed; did you mean airspeed"),
    ("oil_pressure_all", "¦oil_pressure", "oil_pressure_all"),
    ("phase: before-takeoff", "phase: ¦Before take-off", "is not an id"),
    ("figures: rotate_speed,", "figures: ¦rotat_speed,", "did you mean 'rotate_speed'"),
    ("figures: rotate_speed,", "figures: rotate_speed,¦,", "a name is missing beside a comma"),
    ("figures: rotate_speed,", "figures: ¦airspeed,", "'airspeed' is a reading of the aircraft"),
    ("figures: rotate_speed, gross_weight", "figures: ¦{a: b}", "'figures' is a list of names"),
    ("figures: rotate_speed, gross_weight", "figures: [¦[a]]", "a name of 'figures' is one line"),
    ("wordiness: full", "wordiness: ¦fully", "it is full, terse or tones; did you mean 'full'"),
    ("kind: challenge and response", "kind: ¦challenge", "'challenge' is not a kind; it is"),
    ("- list: after-takeoff\n        kind: flow\n", "- ¦list: after-takeoff\n", "needs the key 'kind'"),
    ("calls: line up list", "calls: line up ¦| list", "write / between alternatives"),
    ("calls: line up list", "calls: ¦{a: b}", "'calls' is a text or a list of texts"),
    ("calls: line up list", "calls: [¦[a b]]", "a line of 'calls' is one line of text"),
    ("calls: line up list", "calls: [¦'', a b]", "give it a value or remove it"),
    ("before: takeoff_power_set", "before: ¦takeoff_power", "did you mean 'takeoff_power_set'"),
    ("before: takeoff_power_set", "before: ¦landing", "add it under 'moments'"),
    ("if: gross_weight > 20500 lb", "if: ¦gross_weight + 1 lb", "a condition should stand here"),
    ("if: gross_weight > 20500 lb", "if: gross_weight >¦", "something is missing at the end"),
    ("challenger: first officer", "challenger: ¦first offcer", "did you mean 'first officer'"),
    ("challenger: first officer", "challenger: ¦navigator", "its roles: captain, first officer"),
    ("        kind: callouts\n", "        kind: callouts\n        ¦argument: engine\n", "add 'start: on call'"),
    ("start: at once\n", "start: at once\n        ¦rejected takeoff: no\n", "for abnormal lists"),
    ("start: at once\n", "start: at once\n        ¦offer: Ready?\n", "needs 'offered at'"),
    (
        "start: at once\n",
        "start: at once\n        ¦offered at: takeoff_power_set\n",
        "too late: 'takeoff_power_set'",
    ),
    ("start: at once\n", "start: at once\n        ¦callouts: []\n", "of the kind 'callouts'"),
    ("        callouts:\n", "        ¦items: []\n        callouts:\n", "is not for a list of callouts"),
    ("- list: departure-briefing", "- ¦list: before-takeoff", "the list 'before-takeoff' stands here twice"),
    ("- challenge: Flaps\n", "- ¦chalenge: Flaps\n", "did you mean 'challenge'"),
    ("            id: flaps\n", "            id: ¦Flaps 1\n", "is not an id"),
    ("response: ten / (flaps)? ten set", "response: ten / (flaps¦? ten set", "'?' stands only behind a group"),
    ("response: ten / (flaps)? ten set", "response: ten / <¦flaps>", "'flaps' is not an input"),
    ("not: [up,", "not: [¦ten,", "'ten' is a right answer too"),
    ("critical: yes", "critical: ¦true", "'critical' is yes or no, not 'true'"),
    ("short: Flap", "short: Flap <¦engine>", "no engine is known here"),
    ("note: Ten for <rotate_speed>", "note: Ten for <¦rotate speed>", "did you mean 'rotate_speed'"),
    ("            critical: yes\n", "            ¦memory: yes\n", "is for items of abnormal lists"),
    ("            critical: yes\n", "            ¦confirm: engine\n", "add 'argument: engine'"),
    ("            critical: yes\n", "            ¦readback: rotate_speed\n", "one kind of response"),
    ("            critical: yes\n", "            ¦tolerance: 1 kt\n", "goes with 'readback'"),
    ("same as: before-takeoff.flaps\n            if: runway_surface == wet\n", "¦same as:\n", "'same as' has no value"),
    ("readback: rotate_speed", "readback: ¦surface_word", "is a word, not a number to read back"),
    ("readback: rotate_speed", "readback: ¦floor_speed", "'floor_speed' is a constant"),
    ("readback: rotate_speed", "readback: ¦rotated_sped", "did you mean 'rotate_speed'"),
    ("tolerance: 1 kt", "tolerance: ¦1 lb", "a speed"),
    ("tolerance: 1 kt", "tolerance: ¦-1 kt", "a tolerance is 0 or more"),
    ("              dry: dry\n", "              ¦damp: humid\n              dry: dry\n", "not a choice"),
    ("wet: wet / damp", "wet: ¦dry / damp", "'dry' stands for 'dry' already"),
    ("wet: wet / damp", "wet: ¦[a]", "'wet' is one line of text"),
    ("keep: runway_surface", "keep: ¦gross_weight", "use 'enter: gross_weight'"),
    ("keep: runway_surface", "keep: ¦rotate_speed", "is a figure of the aircraft, not an input"),
    ("enter: gross_weight", "enter: ¦gross_wait", "did you mean 'gross_weight'"),
    ("reading: gear_position == 0", "reading: gear_position ¦== 0 kt", "cannot compare"),
    ("reading: airspeed > rotate_speed / 2", "enter: gross_weight\n            ¦not: x", "goes with"),
    ("            response: up\n            not: down", "            ¦not: down", "add the words"),
    ("if: runway_surface == dry", "if: ¦oil_pressure_<engine> > 1 psi", "only in an item with"),
    ("            each engine: yes\n", "            each engine: ¦maybe\n", "is yes or no"),
    ("- say: Rotate at", "- say: Rotate <¦engine> at", "no engine is known here"),
    ("          - say: Rotate", "          - ¦challenge: X\n            response: y\n          - say: R", "use 'say'"),
    ("          - say: Rotate", "          - ¦x", "an entry of 'items' has keys"),
    ("call: Rotate\n            when: airspeed rises to rotate_speed\n", "¦call: Rotate\n", "needs the key 'when'"),
    ("- call: Rotate\n", "- call: <¦airspeed>\n", "a reading of the aircraft, not an input or"),
    ("when: airspeed rises to rotate_speed", "when: ¦airspeed at 90 kt", "a callout comes when"),
    ("when: airspeed rises to rotate_speed", "when: ¦speed rises to 90 kt", "not a reading"),
    ("when: airspeed rises to rotate_speed", "when: ¦rotate_speed rises to 90 kt", "is a figure; a"),
    ("when: airspeed rises to rotate_speed", "when: airspeed rises to ¦90 ft", "a speed"),
    ("when: oil_pressure_any rises", "when: ¦oil_pressure rises", "use oil_pressure_1"),
    ("2 min after takeoff_power_set", "2 min after ¦takeoff_power_se", "did you mean"),
    ("2 min after takeoff_power_set", "¦2 kt after takeoff_power_set", "a time"),
    ("climb_pressure changes by", "¦surface_word changes by", "cannot change by an amount"),
    ("climb_pressure changes by", "¦climb_pres changes by", "did you mean 'climb_pressure'"),
    ("id: slow-down", "id: ¦Slow", "is not an id"),
    ("          - call: Power\n", "          - ¦call: Rotate\n", "two callouts of this list have"),
    ("          - call: Power\n", "          - ¦call: (...)\n", "the callout needs an id"),
    ("- challenge: Landing lights\n", "- ¦challenge: (...)\n", "the item needs an id of its own"),
    ("- challenge: Landing lights\n", "- ¦challenge: L\n            keep: x\n", "needs a response"),
    ("- challenge: Weight <gross_weight>\n            response: <gross_weight> set\n", "- ¦challenge: Weight\n", "one of the keys response, readback"),
    ("same as: before-takeoff.flaps", "same as: ¦before-takeoff", "a list and an item"),
    ("same as: before-takeoff.flaps", "same as: ¦before-takeoff.flap", "did you mean"),
    ("same as: before-takeoff.flaps\n", "same as: ¦engine-fire.feather\n", "is about one engine"),
    ("          - say: Rotate", "          - same as: ¦before-takeoff.flaps\n          - say: R", "a briefing is only spoken"),
    ("calls: [engine <engine> fire,", "calls: [engine <¦rotat_speed> fire,", "did you mean"),
    ("- list: rejected-takeoff\n    title: Rejected take-off\n", "- ¦list: engine-fires\n    title: Engine fire\n", "'engine fire' calls for the list 'engine-fire' already"),
    ("- challenge: Throttle <engine>\n", "- challenge: Throttle <engine>\n        ¦each engine: yes\n", "already"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message"), PROCEDURE_MISTAKES)
def test_a_mistake_in_procedures_is_named_at_its_place(old: str, new: str, message: str) -> None:
    expect("procedures", old, new, message)


AIRCRAFT_MISTAKES = [
    ("roles: captain, first officer", "roles: captain, ¦captain", "the role 'captain' stands twice"),
    ("engines: 2", "engines: ¦13", "a whole number from 1 to 12"),
    ("engines: 2", "engines: ¦two", "a whole number from 1 to 12, not 'two'"),
    ("  gross_weight:\n", "  ¦Weight 2: {range: 0 to 1}\n  gross_weight:\n", "is not a name"),
    ("  gross_weight:\n", "  ¦engine: {range: 0 to 1}\n  gross_weight:\n", "a meaning of its own"),
    ("  gross_weight:\n", "  ¦min: {range: 0 to 1}\n  gross_weight:\n", "has a meaning in formulas"),
    ("  gross_weight:\n", "  other: ¦none\n  gross_weight:\n", "'other' has keys of its own: title"),
    ("  rotate_speed:\n", "  ¦gross_weight: {from: 1}\n  rotate_speed:\n", "is an input already (line 7)"),
    ("    unit: lb\n", "    unit: ¦lbz\n", "'lbz' is not a unit"),
    ("range: 20000 to 30000", "range: ¦20000 - 30000", "a range is 'LOW to HIGH'"),
    ("range: 20000 to 30000", "range: 20000 to ¦lots", "is not a number with a unit"),
    ("range: 20000 to 30000", "range: ¦30000 to 30000", "from the lower to the higher"),
    ("unit: ft\n    range: -1000 to 20000\n    default: 500\n", "¦unit: ft\n", "needs the key 'range'"),
    ("default: 25000", "default: ¦35000", "35000 is outside the range 20000 to 30000"),
    ("default: 25000", "default: ¦heavy", "is not a number with a unit"),
    ("kind: weight", "kind: ¦wieght", "did you mean 'weight'"),
    ("choices: dry, wet", "choices: dry, wet, ¦wet", "the choice 'wet' stands twice"),
    ("choices: dry, wet", "choices: dry, wet, ¦very wet", "is not a name"),
    ("choices: dry, wet", "choices: dry, wet\n    ¦unit: ft", "this input is a choice"),
    ("    default: dry", "    default: ¦dri", "'dri' is not one of the choices: dry or wet"),
    ("from: outside_temperature + 5 degC", "from: ¦gross_weight", "not a temperature"),
    ("from: outside_temperature + 5 degC", "from: outside_temperature +¦", "something is missing"),
    ("range: -40 to 60\n    from", "range: -40 to 60\n    ¦default: 2\n    from", "its default is never"),
    ("displacement: 1830 in^3", "displacement: ¦big", "is not a number with a unit"),
    ("displacement: 1830 in^3", "displacement: ¦[1]", "'displacement' has keys of its own"),
    ("    title: floor\n    value: 80 kt", "    ¦title: floor", ""),
    ("by: gross_weight in lb, next row up\n    gives", "by: ¦gross_weight in lb\n    gives", "an axis is"),
    ("by: gross_weight in lb, next row up\n    gives", "by: gross_weight in lb, ¦next row\n    gives", "did you mean 'next row up'"),
    ("by: gross_weight in lb, next row up\n    gives", "by: ¦Weight in lb, linear\n    gives", "is not a name"),
    ("by: gross_weight in lb, next row up\n    gives", "by: gross_weight in ¦lbz, linear\n    gives", "not a unit"),
    ("    source: invented\n    by: gross_weight in lb, next row up\n    gives", "    by: gross_weight in lb, linear\n    gives", ""),
    ("    gives: kt\n", "    gives: ¦knotz\n", "is not a unit"),
    ("    gives: kt\n", "    gives: kt\n    ¦across: 1 2\n", "this one has one"),
    ("      25000: 90\n", "      25000: ¦90 91\n", "the row '25000' has 2 values, not 1"),
    ("      25000: 90\n", "      25000: ¦ninety\n", "a value of a table is a number"),
    ("      25000: 90\n", "      25000: ¦{a: b}\n", "the row '25000' is a line of numbers"),
    ("      25000: 90\n", "      25000: ¦','\n", "the row '25000' has no values"),
    ("      25000: 90\n", "      ¦15000: 90\n", "does not come after 20000"),
    ("      25000: 90\n", "      ¦many: 90\n", "a row of 'gross_weight' is a number, not 'many'"),
    ("columns: reference_speed in kt, wetness", "columns: reference_speed in kt, ¦wet ness", "a column is"),
    ("columns: reference_speed in kt, wetness", "columns: wetness in kt, ¦wetness", "another column"),
    ("columns: reference_speed in kt, wetness", "columns: reference_speed in kt, ¦Wet", "is not a name"),
    ("columns: reference_speed in kt, wetness", "columns: reference_speed in ¦k, wetness", "is not a unit"),
    ("columns: reference_speed", "¦gives: kt\n    columns: reference_speed", "do not go together"),
    ("      - surface, exact\n", "      - surface, exact\n      - ¦pressure_altitude, exact\n", ""),
    ("      - surface, exact\n", "      - ¦steps, exact\n", ""),
    ("    across: [1, 2]\n", "", "needs the key 'across'"),
    ("    across: [1, 2]\n    gives: number", "    across: [1, 2]\n    ¦columns: a, b", "use 'gives'"),
    ("    blocks:\n", "    ¦rows: {1: 2}\n    blocks:\n", "is not for a table of 3 axes: use 'blocks'"),
    ("      wet:\n        -1000", "      ¦wet:\n        -2000", "has other rows than the first block"),
    ("      wet:\n        -1000: 5 6\n        20000: 7 8", "      wet: ¦5 6", "the block 'wet' holds rows"),
    ("      20000: 84\n      25000: 90\n      30000: 97\n", "      20000: 84\n      25000: ¦[]\n", "has no values"),
    ("    rows:\n      20000: 84\n      25000: 90\n      30000: 97\n", "    rows: ¦none\n", "holds lines 'name: value'"),
    ("  rotate_speed:\n", "  other: ¦none\n  rotate_speed:\n", "'other' has keys of its own"),
    ("  rotate_by_weight:\n", "  other: ¦none\n  rotate_by_weight:\n", "a table has keys of its own"),
    ("    title: rotation speed by weight\n    source: invented\n    by: gross_weight in lb, next row up\n    gives: kt\n    rows:\n      20000: 84\n      25000: 90\n      30000: 97\n", "    ¦source: invented\n    by: gross_weight in lb, next row up\n    gives: kt\n    rows: {}\n", "at least one row"),
    ("round: up to 1", "round: ¦upwards", "rounding is 'up to STEP'"),
    ("round: up to 1", "round: up to ¦-1", "a step is above 0"),
    ("round: up to 1", "round: up to ¦1 lb", "a mass"),
    ("    decimals: 3\n", "    ¦decimals: 1\n", "write 2 or more"),
    ("from: rotate_by_weight(gross_weight)", "from: rotate_by_weight(¦airspeed)", "is a reading"),
    ("at least: floor_speed", "at least: ¦displacement", "not a speed"),
    ("    from: chart(pressure_altitude, carburettor_temperature)\n", "", ""),
    ("  airspeed:\n", "  other: ¦none\n  airspeed:\n", "has keys of its own"),
    ("- reading: oil_pressure", "- reading: ¦oil_presure", "did you mean 'oil_pressure'"),
    ("at least: 50 psi", "at least: ¦50 kt", "a pressure"),
    ("    at least: 50 psi\n    at most: 100 psi\n", "", ""),
    ("reading: oil_pressure\n    at least: 50 psi\n", "¦at least: 50 psi\n", "needs the key 'reading'"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message"), AIRCRAFT_MISTAKES)
def test_a_mistake_in_an_aircraft_is_named_at_its_place(old: str, new: str, message: str) -> None:
    if MARK in new and message:
        expect("aircraft", old, new, message)
    else:
        assert errors_of("aircraft", edited(AIRCRAFT, old, new)[0])


VOICE_MISTAKES = [
    ("numbers: icao", "numbers: ¦caio", "did you mean 'icao'"),
    ("rate: 170", "rate: ¦900", "a whole number from 60 to 450"),
    ("stand_by: stand by", "¦standby: stand by", "did you mean 'stand_by'"),
    ("stand_by: stand by", "stand_by: ¦repeat", "'repeat' stands for 'say_again' already"),
    ("stand_by: stand by", "stand_by: stand ¦<list>", "a control phrase has no figures in it"),
    ("stand_by: stand by", "stand_by: stand ¦| by", "write / between alternatives"),
    ("stand_by: stand by", "stand_by: ¦[a]", "'stand_by' is one line of text"),
    ("list_complete: <list> is", "list_complete: <¦lists> is", "is not a place of 'list_complete'"),
    ("muted: microphone off", "muted: <¦list> off", "it has none"),
    (
        "muted: microphone off",
        "¦zzz: microphone off",
        "is not a phrase of Runner's; it is list_begins",
    ),
    ("set: [is set, set now]", "set: [is set, set ¦* now]", "has no meaning here"),
    ("  set: [is set", "  ¦set: {a: b}\n  x: [is set", ""),
    ("METO: meeto", "METO: ¦[a]", "'METO' is one line of text"),
    ("synonyms:\n", "synonyms: ¦none\nother:\n", ""),
]


@pytest.mark.parametrize(("old", "new", "message"), VOICE_MISTAKES)
def test_a_mistake_in_a_voice_is_named_at_its_place(old: str, new: str, message: str) -> None:
    if message:
        expect("voice", old, new, message)
    else:
        assert errors_of("voice", edited(VOICE, old, new)[0])


def test_the_files_are_good_without_a_mistake() -> None:
    assert [errors_of(kind, text) for kind, (_, text) in FILES.items()] == [[], [], []]


def test_all_that_is_wrong_in_both_files_is_told_in_one_go() -> None:
    procedures = PROCEDURES.replace("wordiness: full", "wordiness: wordy").replace(
        "readback: rotate_speed", "readback: rotate_sped"
    )
    aircraft = AIRCRAFT.replace("kind: weight", "kind: heavy").replace("unit: psi", "unit: pzi")
    with pytest.raises(FileErrors) as caught:
        load(procedures, aircraft)
    places = [str(error.where) for error in caught.value.errors]
    assert places == ["a.yaml:12:11", "a.yaml:106:11", "p.yaml:19:16", "p.yaml:42:23"]
    assert caught.value.status == 2


def test_what_is_wrong_in_the_aircraft_is_not_told_again_where_it_is_used() -> None:
    aircraft = AIRCRAFT.replace("    from: rotate_by_weight(gross_weight)\n", "")
    with pytest.raises(FileErrors) as caught:
        load(PROCEDURES, aircraft)
    assert [error.where.file for error in caught.value.errors] == ["a.yaml"]


def test_a_repeat_that_goes_round_in_a_circle_is_an_error() -> None:
    text = PROCEDURES.replace(
        "same as: before-takeoff.magnetos-engine", "same as: after-takeoff.again"
    )
    found = errors_of("procedures", text)
    assert any(
        "goes round in a circle: after-takeoff.magnetos -> after-takeoff.again" in f for f in found
    )


def test_a_repeat_of_a_repeat_that_is_wrong_is_told_once() -> None:
    text = PROCEDURES.replace("same as: before-takeoff.magnetos-engine", "same as: no-such.item")
    assert [line.partition(" there")[0] for line in errors_of("procedures", text)] == [
        "p.yaml:95:22:"
    ]


def test_a_long_list_of_what_would_be_right_is_cut() -> None:
    choices = ", ".join(f"word_{n}" for n in range(20))
    text = AIRCRAFT.replace("choices: dry, wet", f"choices: dry, wet, {choices}")
    found = errors_of("aircraft", text.replace("default: dry", "default: zzz"))
    assert found == [
        "a.yaml:16:14: 'zzz' is not one of the choices: dry, wet, word_0, word_1, word_2, word_3, "
        "word_4, word_5, word_6, word_7, word_8, word_9 ..."
    ]


def test_a_second_rejected_takeoff_list_is_an_error() -> None:
    text = PROCEDURES.replace(
        "    argument: engine\n", "    argument: engine\n    rejected takeoff: yes\n"
    )
    assert any("there is one" in line for line in errors_of("procedures", text))


def test_two_items_of_one_id_are_an_error_that_names_the_first() -> None:
    text = PROCEDURES.replace("- challenge: Gear\n", "- challenge: Rotate\n")
    assert any(
        "(first in line 41); give this one its own, as id: rotate-2" in line
        for line in errors_of("procedures", text)
    )


def test_a_repeat_may_not_take_the_id_of_another_item() -> None:
    text = PROCEDURES.replace("- challenge: Landing lights\n", "- challenge: Magnetos 1\n")
    assert any(
        "'after-takeoff.magnetos-1', which is another item's id" in line
        for line in errors_of("procedures", text)
    )


def test_a_figure_that_a_list_is_called_by_is_tried_as_a_number() -> None:
    text = PROCEDURES.replace("calls: line up list", "calls: flaps <rotate_speed> list")
    assert errors_of("procedures", text) == []


def test_phases_are_a_list_of_entries() -> None:
    found = errors_of("procedures", "runner: 1\nprocedures: x\naircraft: a\nphases: none\n")
    assert found == ["p.yaml:4:9: 'phases' is a list: each entry begins with '- '"]


def test_an_item_of_a_briefing_cannot_be_critical() -> None:
    item = "          - challenge: X\n            response: y\n            critical: yes\n"
    text = PROCEDURES.replace("          - say: Rotate", item + "          - say: Rotate")
    found = errors_of("procedures", text)
    assert any("'critical' is for items that are answered" in line for line in found)


def test_a_table_has_at_most_so_many_cells() -> None:
    row = " ".join(str(n) for n in range(400))
    rows = "".join(f"      {n}: {row}\n" for n in range(300))
    table = (
        "  wide:\n    source: x\n    by:\n      - a in ft, linear\n      - b in ft, linear\n"
        f"    across: {row}\n    gives: ft\n    rows:\n{rows}"
    )
    found = errors_of("aircraft", AIRCRAFT.replace("tables:\n", "tables:\n" + table))
    assert found == ["a.yaml:37:5: a table has at most 100,000 cells"]


def test_a_choice_of_an_input_that_is_wrong_itself_is_not_told_twice() -> None:
    aircraft = AIRCRAFT.replace("    default: dry\n", "    default: damp\n")
    with pytest.raises(FileErrors) as caught:
        load(PROCEDURES, aircraft)
    assert [error.where.file for error in caught.value.errors] == ["a.yaml"]


def test_a_reading_that_could_not_be_read_is_not_told_again_where_it_is_watched() -> None:
    aircraft = AIRCRAFT.replace(
        "  airspeed:\n    title: airspeed\n    unit: kt\n    kind: speed\n", "  airspeed: none\n"
    )
    with pytest.raises(FileErrors) as caught:
        load(PROCEDURES, aircraft)
    assert [error.where.file for error in caught.value.errors] == ["a.yaml"]


def test_a_tolerance_of_a_figure_that_is_wrong_itself_is_not_told() -> None:
    aircraft = AIRCRAFT.replace("    unit: kt\n    round: up to 1\n", "    unit: ktz\n")
    with pytest.raises(FileErrors) as caught:
        load(PROCEDURES, aircraft)
    assert [error.where.file for error in caught.value.errors] == ["a.yaml"]


def test_a_list_without_words_in_its_title_is_called_by_its_calls_alone() -> None:
    assert errors_of("procedures", PROCEDURES.replace("title: Take-off roll", "title: (...)")) == []


def test_patterns_of_very_many_texts_are_still_compared() -> None:
    many = " ".join("(a / b / c / d)" for _ in range(5))
    text = PROCEDURES.replace("response: up\n", f"response: {many} / up\n")
    assert errors_of("procedures", text) == []
    found = errors_of("procedures", text.replace("not: down", "not: d d d d d"))
    assert len(found) == 1
    assert "'d d d d d' is a right answer too" in found[0]


def test_a_callout_whose_id_is_wrong_is_told_once() -> None:
    text = PROCEDURES.replace("- call: Power\n", "- call: Power\n            id: Power 1\n")
    assert len(errors_of("procedures", text)) == 1


def test_items_of_every_response_may_stand_in_two_lists() -> None:
    names = ("rotate", "runway-surface", "gross-weight", "gear", "weight-gross-weight")
    repeats = "".join(f"          - same as: before-takeoff.{name}\n" for name in names)
    mark = "          - challenge: Landing lights\n"
    procedures = load(PROCEDURES.replace(mark, mark + repeats))
    after = {item.id for item in procedures.lists["after-takeoff"].items}
    assert {f"after-takeoff.{name}" for name in names} <= after
