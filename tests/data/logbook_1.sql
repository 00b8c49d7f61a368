PRAGMA user_version = 1;
BEGIN TRANSACTION;
CREATE TABLE contents (sha256 TEXT PRIMARY KEY, text TEXT NOT NULL) WITHOUT ROWID;
INSERT INTO "contents" VALUES('2cf7c41ca89c6d762df41d872fce6a8488cfab2afa8282892da383cfa1e44637','runner: 1
aircraft: Plover Four
about: Invented, for simulation and training only, not for flight.
roles: captain, first officer
engines: 4
inputs:
  gross_weight:
    title: gross weight
    unit: lb
    range: 52000 to 91500
    kind: weight
  runway_surface:
    title: runway surface
    choices: dry, wet
  flap_setting:
    choices: ten, full_flap
constants:
  ground_speed: 10 kt
figures:
  rotate_speed:
    title: rotate speed
    from: 60 kt + gross_weight / 2000 lb * 1 kt
    unit: kt
    round: up to 1
    kind: speed
  stop_speed:
    title: stop speed
    from: rotate_speed - 4 kt if runway_surface == wet else rotate_speed
    unit: kt
    round: down to 1
    kind: speed
readings:
  gear_position:
    title: gear position
  airspeed:
    unit: kt
    kind: speed
  oil_pressure:
    unit: psi
    each engine: yes
');
INSERT INTO "contents" VALUES('554567390f2770f2b89b236d9f015ae5f82bcffa6aa5cbf04eb0ccbd0172d006','runner: 1
voice: cockpit
language: en
numbers: cockpit
long form: checklist
control:
  stand_by: stand by
  resume: continue
  done: done
  affirm: affirm / yes
  negative: negative / no
synonyms:
  set: [is set]
');
INSERT INTO "contents" VALUES('678cab68f1a6e26d80e6e64555a390306674a1428bdb87dd6e10cf92b44f0b57','runner: 1
procedures: Plover Four, tests
about: Invented, for simulation and training only.
aircraft: plover.yaml
moments:
  power_set:
    name: take-off power set
    said: power set
  flaps_up:
    name: flaps up
    said: flaps (are)? up
  fire_bell:
    name: fire bell
    when: oil_pressure_any > 100 psi
phases:
  - phase: preparation
    name: Preparation
    figures: rotate_speed
    lists:
      - list: cockpit
        title: Cockpit
        kind: challenge and response
        challenger: first officer
        responder: captain
        items:
          - challenge: Brakes
            response: set
            critical: yes
          - challenge: Blowers, all four
            short: Blowers
            response: low / both low
            not: high / both high
          - challenge: Radar
            response: standby
          - challenge: Rotate
            readback: rotate_speed
            tolerance: 1 kt
          - challenge: Runway surface
            choose:
              dry: dry
              wet: wet / damp
            keep: runway_surface
          - challenge: Gross weight
            enter: gross_weight
          - challenge: Flap
            enter: flap_setting
          - challenge: Wipers
            response: on
            if: runway_surface == wet
          - say: Rotate at <rotate_speed> knots.
          - challenge: Gear
            reading: gear_position == 1
            response: down
      - list: briefing
        title: Departure briefing
        kind: briefing
        items:
          - say: Rotate at <rotate_speed>.
          - say: Stop speed <stop_speed>.
      - list: scan
        title: Scan
        kind: flow
        start: on call
        items:
          - challenge: Lights
            response: on
          - challenge: Pumps
            response: on
  - phase: takeoff
    name: Take-off
    lists:
      - list: before-takeoff
        title: Before take-off
        kind: challenge and response
        calls: line up list
        before: power_set
        items:
          - challenge: Stop speed
            readback: stop_speed
          - challenge: Cowl flaps
            response: half open
            critical: yes
      - list: roll
        title: Take-off roll
        kind: callouts
        callouts:
          - call: Rotate
            when: airspeed rises to rotate_speed
            urgent: yes
          - call: Stop speed <stop_speed>
            when: stop_speed changes by 1 kt
          - call: Two minutes
            when: 2 min after power_set
      - list: after-takeoff
        title: After take-off
        kind: challenge and response
        offered at: flaps_up
        offer: Flaps up, after take-off list?
        items:
          - challenge: Gear lever
            response: neutral
  - phase: cruise
    name: Cruise
    wordiness: terse
    lists:
      - list: cruise
        title: Cruise
        kind: challenge and response
        items:
          - challenge: Mixtures, all engines
            short: Mixtures
            response: lean
abnormal:
  - list: engine-fire
    title: Engine fire
    kind: challenge and response
    argument: engine
    offered at: fire_bell
    calls: [fire on engine <engine>, fire drill]
    items:
      - challenge: Throttle
        response: closed
        memory: yes
      - challenge: Feather engine <engine>
        response: feathered
        confirm: engine
        critical: yes
  - list: generator
    title: Generator failure
    kind: read and do
    items:
      - challenge: Generator
        response: off
      - challenge: Load
        response: reduced
  - list: rejected
    title: Rejected take-off
    kind: challenge and response
    rejected takeoff: yes
    items:
      - challenge: Throttles
        response: closed
');
CREATE TABLE events (
            run INTEGER NOT NULL REFERENCES runs(id) ON DELETE CASCADE,
            number INTEGER NOT NULL,
            at INTEGER NOT NULL,
            kind TEXT NOT NULL,
            event TEXT NOT NULL,
            PRIMARY KEY (run, number)
        ) WITHOUT ROWID;
INSERT INTO "events" VALUES(1,0,0,'RunStarted','{"aircraft":{"name":"plover.yaml","sha256":"2cf7c41ca89c6d762df41d872fce6a8488cfab2afa8282892da383cfa1e44637","text":""},"at":0,"figures":[{"decimals":0,"kind":"weight","name":"gross_weight","title":"gross weight","unit":"lb","value":74000.0},{"decimals":0,"kind":"speed","name":"rotate_speed","title":"rotate speed","unit":"kt","value":97.0},{"decimals":0,"kind":"speed","name":"stop_speed","title":"stop speed","unit":"kt","value":97.0},{"decimals":0,"kind":"words","name":"runway_surface","title":"runway surface","unit":"","value":"dry"},{"decimals":0,"kind":"words","name":"flap_setting","title":"","unit":"","value":"ten"}],"from_phase":"","given":[],"is":"RunStarted","phase":"preparation","procedures":{"name":"tests.yaml","sha256":"678cab68f1a6e26d80e6e64555a390306674a1428bdb87dd6e10cf92b44f0b57","text":""},"roles":[],"rules":4,"voice":{"name":"cockpit.yaml","sha256":"554567390f2770f2b89b236d9f015ae5f82bcffa6aa5cbf04eb0ccbd0172d006","text":""},"wall_clock":"2026-05-03T19:20:00+02:00","wordiness":"full"}');
INSERT INTO "events" VALUES(1,1,1000,'Said','{"at":1000,"completed":true,"is":"Said","utterance":1}');
INSERT INTO "events" VALUES(1,2,2000,'Heard','{"at":2000,"began":1500,"ended":1900,"is":"Heard","proposals":[],"readings":[],"verdict":{"candidate":"answer","decision":"accept","reason":"","text":"answer","value":null},"window":1}');
INSERT INTO "events" VALUES(1,3,3000,'Said','{"at":3000,"completed":true,"is":"Said","utterance":2}');
INSERT INTO "events" VALUES(1,4,4000,'Heard','{"at":4000,"began":3500,"ended":3900,"is":"Heard","proposals":[],"readings":[],"verdict":{"candidate":"wrong:1","decision":"accept","reason":"","text":"wrong:1","value":null},"window":2}');
INSERT INTO "events" VALUES(1,5,5000,'Heard','{"at":5000,"began":4500,"ended":4900,"is":"Heard","proposals":[],"readings":[],"verdict":{"candidate":"answer","decision":"accept","reason":"","text":"answer","value":null},"window":2}');
INSERT INTO "events" VALUES(1,6,6000,'Said','{"at":6000,"completed":true,"is":"Said","utterance":3}');
INSERT INTO "events" VALUES(1,7,7000,'Heard','{"at":7000,"began":6500,"ended":6900,"is":"Heard","proposals":[],"readings":[],"verdict":{"candidate":"answer","decision":"accept","reason":"","text":"answer","value":null},"window":3}');
INSERT INTO "events" VALUES(1,8,8000,'Keyed','{"action":"end","argument":"","argument2":"","at":8000,"is":"Keyed"}');
INSERT INTO "events" VALUES(2,0,0,'RunStarted','{"aircraft":{"name":"plover.yaml","sha256":"2cf7c41ca89c6d762df41d872fce6a8488cfab2afa8282892da383cfa1e44637","text":""},"at":0,"figures":[{"decimals":0,"kind":"weight","name":"gross_weight","title":"gross weight","unit":"lb","value":74000.0},{"decimals":0,"kind":"speed","name":"rotate_speed","title":"rotate speed","unit":"kt","value":97.0},{"decimals":0,"kind":"speed","name":"stop_speed","title":"stop speed","unit":"kt","value":97.0},{"decimals":0,"kind":"words","name":"runway_surface","title":"runway surface","unit":"","value":"dry"},{"decimals":0,"kind":"words","name":"flap_setting","title":"","unit":"","value":"ten"}],"from_phase":"","given":[],"is":"RunStarted","phase":"preparation","procedures":{"name":"tests.yaml","sha256":"678cab68f1a6e26d80e6e64555a390306674a1428bdb87dd6e10cf92b44f0b57","text":""},"roles":[],"rules":4,"voice":{"name":"cockpit.yaml","sha256":"554567390f2770f2b89b236d9f015ae5f82bcffa6aa5cbf04eb0ccbd0172d006","text":""},"wall_clock":"2026-05-04T19:20:00+02:00","wordiness":"full"}');
INSERT INTO "events" VALUES(2,1,1000,'Said','{"at":1000,"completed":true,"is":"Said","utterance":1}');
INSERT INTO "events" VALUES(2,2,2000,'Heard','{"at":2000,"began":1500,"ended":1900,"is":"Heard","proposals":[],"readings":[],"verdict":{"candidate":"answer","decision":"accept","reason":"","text":"answer","value":null},"window":1}');
INSERT INTO "events" VALUES(2,3,3000,'Said','{"at":3000,"completed":true,"is":"Said","utterance":2}');
INSERT INTO "events" VALUES(2,4,4000,'Heard','{"at":4000,"began":3500,"ended":3900,"is":"Heard","proposals":[],"readings":[],"verdict":{"candidate":"wrong:1","decision":"accept","reason":"","text":"wrong:1","value":null},"window":2}');
INSERT INTO "events" VALUES(2,5,5000,'Heard','{"at":5000,"began":4500,"ended":4900,"is":"Heard","proposals":[],"readings":[],"verdict":{"candidate":"answer","decision":"accept","reason":"","text":"answer","value":null},"window":2}');
INSERT INTO "events" VALUES(2,6,6000,'Said','{"at":6000,"completed":true,"is":"Said","utterance":3}');
INSERT INTO "events" VALUES(2,7,7000,'Heard','{"at":7000,"began":6500,"ended":6900,"is":"Heard","proposals":[],"readings":[],"verdict":{"candidate":"answer","decision":"accept","reason":"","text":"answer","value":null},"window":3}');
CREATE TABLE runs (
            id INTEGER PRIMARY KEY,
            started TEXT NOT NULL,
            procedures TEXT NOT NULL,
            aircraft TEXT NOT NULL,
            finished TEXT NOT NULL DEFAULT ''
        );
INSERT INTO "runs" VALUES(1,'2026-05-03T19:20:00+02:00','tests.yaml','plover.yaml','open');
INSERT INTO "runs" VALUES(2,'2026-05-04T19:20:00+02:00','tests.yaml','plover.yaml','');
COMMIT;
