"""What people mistype, and what they are told: one line, with the right form, and nothing written.

The inputs are those that were tried on the program and answered badly, and more of their kind.
"""

import shlex
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.cli.commands import run

RATE = 16_000
# a site file, and the words that the answer must hold
SITES: list[tuple[str, str]] = [
    ("name = Quarry Lane", "1, 'name = Quarry Lane': put text in quotes: name = \"Quarry Lane\""),
    (
        "[site]\nname = Quarry Lane",
        "2, 'name = Quarry Lane': put text in quotes: name = \"Quarry Lane\"",
    ),
    ("[site]\nname = 'Quarry", '= \'Quarry": text begins and ends with a quote: name = "Quarry"'),
    ("[site]\nname = 12", 'site.name must be text in quotes, not 12; write name = "12"'),
    (
        "[site]\nkind = busy road",
        "line 2, 'kind = busy road': put text in quotes: kind = \"busy road\"",
    ),
    ("[site\nname = 'x'", "line 1, '[site': a section is written [site]"),
    ("[site]\nname 'x'", "\"name 'x'\": a key and its value are joined by =, like name = 'x'"),
    ("[site]\nname : 'x'", "\"name : 'x'\": a key and its value are joined by =, like name = 'x'"),
    ("[site]\nname = 'x'\nname = 'y'", "leave one, with all that belongs to it"),
    ("[site]\nname = 'x'\n[site]\nkind = 'park'", "leave one, with all that belongs to it"),
    ("[Site]\nname = 'x'", "unknown key Site; did you mean site?"),
    ("[sites]\nname = 'x'", "unknown key sites; did you mean site?"),
    (
        "[mic]\nspl_at_full_scale_db = 110",
        "limits, wanted, place, visit, air, storage, schedule",
    ),
    ("[microphone]\nspl = 110", "did you mean spl_at_full_scale_db?"),
    (
        "[microphone]\nspl_at_full_scale_db = '110'",
        "write spl_at_full_scale_db = 110, without quotes",
    ),
    (
        "[microphone]\nspl_at_full_scale_db = 110 dB",
        "dB': a number stands without its unit: spl_at_full_scale_db = 110",
    ),
    (
        "[microphone]\nspl_at_full_scale_db = 110,5",
        "has a decimal point, and no unit: spl_at_full_scale_db = 110.5",
    ),
    (
        "[microphone]\nspl_at_full_scale_db = -38",
        "microphone.spl_at_full_scale_db = -38 must lie between 40 and 200",
    ),
    (
        "[microphone]\nspl_at_full_scale_db = 1100",
        "microphone.spl_at_full_scale_db = 1100 must lie between 40 and 200",
    ),
    (
        "[microphone]\nspl_at_full_scale_db = ",
        "give a value, like spl_at_full_scale_db = 1, or leave the line out",
    ),
    (
        "[microphone]\nself_noise_dba = -31",
        "microphone.self_noise_dba = -31 must lie between 0 and 80",
    ),
    (
        "[microphone]\nconverter_noise_dbfs = 90",
        "microphone.converter_noise_dbfs = 90 must lie between -160 and -20",
    ),
    ("[microphone]\ngain_control = 'off'", "= 'off' must be one of not tested, none found, found"),
    ("[microphone]\ngain_control = false", 'write gain_control = "none found"'),
    ("[microphone]\ncalibrated_on = '2026-02-20'", "must be a date, as 2026-02-20 without quotes"),
    (
        "[microphone]\ncalibrated_on = 20.02.2026",
        "20.02.2026': a date is year-month-day: calibrated_on = 2026-02-20",
    ),
    ("[microphone]\ncalibrated_on = 2026-13-20", "write one like this: calibrated_on = 2026-02-20"),
    (
        "[gain]\nrecorded_at = 50\nsteps = [[40, -6], [60, 6]]",
        "= 50 is not one of the gain.steps; they have 40, 60",
    ),
    (
        "[gain]\nrecorded_at = 'mid'\nsteps = [['low', -6], ['middle', 0]]",
        "= mid is not one of the gain.steps; they have low, middle",
    ),
    ("[gain]\nsteps = [[-12, 'low'], [0, 'mid']]", 'the setting comes first: ["low", -12]'),
    (
        "[gain]\nrecorded_at = 2\nsteps = [[-12.5, 1], [0.0, 2]]",
        'steps = [["low", -12], ["mid", 0], ["high", 12]]: setting, then dB',
    ),
    (
        "[gain]\nrecorded_at = 1\nsteps = [1, 2, 3]",
        'steps = [["low", -12], ["mid", 0], ["high", 12]]: setting, then dB',
    ),
    (
        "[gain]\nrecorded_at = 1\nsteps = [0, 6]",
        'steps = [["low", -12], ["mid", 0], ["high", 12]]: setting, then dB',
    ),
    (
        "[gain]\nsteps = {low = -6, mid = 0}",
        'steps = [["low", -12], ["mid", 0], ["high", 12]]: setting, then dB',
    ),
    ("[gain]\nsteps = 6", 'steps = [["low", -12], ["mid", 0], ["high", 12]]: setting, then dB'),
    (
        "[gain]\nsteps = [[40, -6], ['40', 0]]",
        "gain.steps names a setting twice; leave one of the two",
    ),
    (
        "[gain]\nrecorded_at = 40\nsteps = [[40, 0], [60, 600]]",
        "at +600 dB from the recording's: must lie between -120 and 120 dB",
    ),
    ("[gain]\nkeep = 'yes'", "must be true or false, not 'yes'; write keep = true"),
    ("[gain]\nkeep = yes", "'keep = yes': yes is true, without capitals or quotes: keep = true"),
    (
        "[display]\nreadings = [[-52, 22], [-38, 58]]",
        "number shown first, then dB FS between -300 and 0, like [22, -52]",
    ),
    (
        "[display]\nreadings = [[22, -52]]",
        "the scale in a lull and in traffic, like [[22, -52], [58, -38]]",
    ),
    (
        "[display]\nreadings = [[22, -52], [22, -38]]",
        "the scale in a lull and in traffic, like [[22, -52], [58, -38]]",
    ),
    (
        "[display]\nreadings = [[58, -52], [22, -38]]",
        "give the number shown first, then dB FS, like [22, -52]",
    ),
    (
        "[display]\nreadings = [[22, -52], [58, 6]]",
        "-300 and 0, like [22, -52] (dB SPL less the SPL at full scale)",
    ),
    (
        "[microphone]\nspl_at_full_scale_db = 110\n[display]\nreadings = [[22, 52], [58, 72]]",
        "-300 and 0, like [22, -52] (dB SPL less the SPL at full scale)",
    ),
    (
        "[display]\nreadings = [22, -52]",
        "write readings = [[22, -52], [58, -38]]: number shown, then dB FS",
    ),
    (
        "[display]\nreadings = [['22', -52], [58, -38]]",
        "write readings = [[22, -52], [58, -38]]: number shown, then dB FS",
    ),
    (
        "[display]\nreadings = [[22, -52], [58, -38], [90, -37]]",
        "-38 dB lies 4.0 dB off the line through all; read it again",
    ),
    ("[trigger]\nmodes = ['level']", "trigger.modes: no mode 'level'; did you mean threshold?"),
    (
        "[trigger]\nmodes = ['treshold']",
        "trigger.modes: no mode 'treshold'; did you mean threshold?",
    ),
    ("[trigger]\nmodes = 'threshold'", 'write modes = ["threshold", "rise"]'),
    ("[trigger]\nmodes = []", "choose from threshold, rise, fall, change"),
    (
        "[trigger]\nmodes = [threshold]",
        "'modes = [threshold]': put text in quotes: modes = [\"threshold\"]",
    ),
    ("[trigger]\nmode = ['rise']", "unknown key mode in [trigger]; did you mean modes?"),
    ("[trigger]\nwindow = 1", "unknown key window in [trigger]; did you mean window_s?"),
    ("[trigger]\nwindow_s = 0", "trigger.window_s = 0 must lie between 0.01 and 600"),
    ("[trigger]\nrearm_s = '10 s'", "write rearm_s = 10, without quotes"),
    ("[trigger]\nrearm_s = -1", "trigger.rearm_s = -1 must lie between 0 and 86400"),
    (
        "[trigger]\nrearm_s = 10s",
        "2, 'rearm_s = 10s': a number stands without its unit: rearm_s = 10",
    ),
    (
        "[limits]\nfalse_triggers_per_day = 0",
        "limits.false_triggers_per_day = 0 must lie between 0.01 and 8640",
    ),
    ("[limits]\nfalse_triggers = 5", "did you mean false_triggers_per_day?"),
    ("[limits]\nlimit = 5", "known: false_triggers_per_day, detection, clipped_share, days_kept"),
    ("[limits]\ndetection = 90", "limits.detection = 90 must lie between 0 and 1; 90 % is 0.9"),
    ("[limits]\ndetection = 90 %", "line 2, 'detection = 90 %': 90 % is 0.9: detection = 0.9"),
    (
        "[limits]\nfalse_triggers_per_day = '20'",
        "write false_triggers_per_day = 20, without quotes",
    ),
    ("[wanted]\nsound = 'breaking glass'\ndistance_m = 5", "write [[wanted]] with two brackets"),
    (
        "[[wanted]]\nsound = 'glas breaking'",
        "voice, loud voice, shout, breaking glass, metal bang, dog's bark",
    ),
    (
        "[[wanted]]\nsound = 'gunshot'",
        "voice, loud voice, shout, breaking glass, metal bang, dog's bark",
    ),
    ("[[wanted]]\nsound = 'breaking glas'", "did you mean 'breaking glass'?"),
    ("[[wanted]]\nsound = 'horn'", "did you mean 'vehicle horn'?"),
    ("[[wanted]]\nsound = ''", 'write sound = "breaking glass"'),
    (
        "[[wanted]]\nsound = 'shout'\ndistance = 5",
        "unknown key distance in [wanted]; did you mean distance_m?",
    ),
    ("[[wanted]]\nsound = 'shout'\ndistance_m = '5 m'", "write distance_m = 5, without quotes"),
    (
        "[[wanted]]\nsound = 'shout'\ndistance_m = 0",
        "wanted.distance_m = 0 must lie between 0.01 and 10000",
    ),
    (
        "[[wanted]]\nsound = 'shout'\nmust = 'no'",
        "must be true or false, not 'no'; write must = true",
    ),
    (
        "[[wanted]]\nfile = 'a.wav'",
        "its highest dB(A) at at_m metres, like level_dba = 95",
    ),
    (
        "[[wanted]]\nfile = 'nowhere.wav'\nlevel_dba = 90",
        "= 'nowhere.wav': is not beside the site file; check the name",
    ),
    ("[[wanted]]\nsound = 'shout'\nfile = 'a.wav'", 'write sound = "breaking glass"'),
    ("[[place]]\nname = 'bench'", "[[place]] needs distance_m; write distance_m = 10"),
    ("[place]\nname = 'bench'\ndistance_m = 4", "write [[place]] with two brackets"),
    ("[air]\ntemperature_c = 68", "air.temperature_c = 68 must lie between -20 and 50"),
    ("[air]\nhumidity_percent = 0.5", "air.humidity_percent = 0.5 must lie between 1 and 100"),
    ("[air]\ntemperature = 20", "did you mean temperature_c?"),
    ("[storage]\ncard_gb = '64 GB'", "write card_gb = 64, without quotes"),
    ("[storage]\naudio_codec = 'mp3'", "PCM 8 kHz, PCM 16 kHz, PCM 48 kHz, AAC 16 kHz, AAC 48 kHz"),
    (
        "[storage]\naudio_codec = 'accc'",
        "PCM 8 kHz, PCM 16 kHz, PCM 48 kHz, AAC 16 kHz, AAC 48 kHz",
    ),
    ("[storage]\nrecording_mbits = 4", "did you mean recording_mbit_s?"),
    (
        "[schedule]\nactive = '8pm-6am'",
        'write active = ["mon-fri 18:00-07:00", "sat-sun 00:00-24:00"]',
    ),
    ("[schedule]\nactive = ['8pm-6am']", "write it like 'mon-fri 18:00-07:00'"),
    ("[schedule]\nactive = ['20-6']", "write it like 'mon-fri 18:00-07:00'"),
    ("[schedule]\nactive = ['mon-fri 18:00']", "write it like 'mon-fri 18:00-07:00'"),
    ("[schedule]\nactive = ['mon-fri 18:00-25:00']", "clocks go from 00:00 to 24:00"),
    (
        "[schedule]\nactive = ['mo-fr 18:00-07:00']",
        "'mo-fr 18:00-07:00': no weekday 'mo'; did you mean mon?",
    ),
    ("[schedule]\nactive = ['20:00-20:00']", "for all day write 00:00-24:00"),
    ("[schedule]\nactive = 20", 'write active = ["mon-fri 18:00-07:00", "sat-sun 00:00-24:00"]'),
    (
        "[schedule]\nactive = [20, 6]",
        'write active = ["mon-fri 18:00-07:00", "sat-sun 00:00-24:00"]',
    ),
    ("[schedule]\nzone = 'Londn'", "names look like Region/City, or CET"),
    ("[schedule]\nzone = '+01:00'", "names look like Region/City, or CET"),
    ("[schedule]\ntraffic_by_hour = 'publishd'", "= 'publishd': give 24 flows or 'published'"),
    (
        "[schedule]\ntraffic_by_hour = [1, 2, 3]",
        "schedule.traffic_by_hour needs 24 numbers, none below 0",
    ),
    (
        "<site>\n<name>x</name>",
        'a site file, whose lines look like [site] and name = "Quarry Lane"',
    ),
    (
        '{"site": {"name": "x"}}',
        'a site file, whose lines look like [site] and name = "Quarry Lane"',
    ),
]
# what is typed behind `audiolevel`
COMMANDS: list[tuple[str, str]] = [
    ("plan a.wav --limit 5", "file says it, as limits.false_triggers_per_day (--site FILE.toml)"),
    ("plan a.wav --sitte site.toml", "no option --sitte; did you mean --site?"),
    ("plan a.wav --siet site.toml", "no option --siet; did you mean --site?"),
    ("plan a.wav --wanted glass", "audiolevel plan --help lists them"),
    ("plan a.wav --at 80", "no option --at; audiolevel plan --help lists them"),
    ("plan a.wav --gain-steps 6", "a site file says it, as gain.steps (--site FILE.toml)"),
    ("plan a.wav --level loud", "--level: 'loud' is no number; write --level 10"),
    ("plan a.wav --level 84dB", "--level: '84dB' is no number; write --level 84"),
    ("plan a.wav --level 84,5", "--level: '84,5' is no number; write --level 84.5"),
    ("plan a.wav --level", "--level needs a value; write --level 84.5"),
    (
        "plan a.wav --site site.toml --level 140",
        "above full scale, where nothing fires it (110 dB SPL at this gain)",
    ),
    ("plan a.wav --level 84", "levels in dB SPL need a calibration"),
    (
        "plan a.wav --site site.toml --level -40",
        "moment heard, where it fires once (67.06 dB SPL at this gain)",
    ),
    (
        "plan a.wav --site site.toml --shown 500",
        "above full scale, where nothing fires it (110 dB SPL at this gain)",
    ),
    (
        "plan a.wav --site site.toml --shown -20",
        "moment heard, where it fires once (67.06 dB SPL at this gain)",
    ),
    ("plan a.wav --shown 5", "to the site file (audiolevel calibrate --record), or give --level"),
    (
        "plan a.wav --site site.toml --shown 5 --level 80",
        "--level and --shown: both say the level; give one of them",
    ),
    (
        "plan a.wav --site site.toml --level 80 --gain loud",
        "gain setting loud: the site file has low, mid, high",
    ),
    ("plan a.wav --site site.toml --level 80 --gain hgih", "gain setting hgih: did you mean high?"),
    (
        "plan a.wav --site site.toml --gain high",
        "--gain and --mode go with --level, --shown or --change",
    ),
    ("plan a.wav --mode rise", "--gain and --mode go with --level, --shown or --change"),
    (
        "plan a.wav --mode level --level 80",
        "--mode: 'level' is none of threshold, rise, fall, change",
    ),
    (
        "plan a.wav --mode rise --level 80",
        "--mode rise: give its step, like --change 12",
    ),
    ("plan a.wav --mode rise --change -6", "trigger change_db = -6: must lie between 0.01 and 200"),
    ("plan a.wav --confidence 95", "95 must be above 0.5 and at most 0.999; 95 % is 0.95"),
    ("plan a.wav --confidence 0.4", "--confidence: 0.4 must be above 0.5 and at most 0.999"),
    ("plan a.wav --confidence 95%", "--confidence: '95%' is no number; write --confidence 0.95"),
    ("plan a.wav --seed -1", "--seed: -1 must lie between 0 and 2147483647"),
    ("plan a.wav --seed 1.5", "--seed: '1.5' is no whole number; write --seed 2"),
    ("plan a.wav --channel 0", "--channel: '0' is neither mean nor a channel from 1"),
    ("plan a.wav --channel left", "--channel: 'left' is neither mean nor a channel from 1"),
    ("plan a.wav --channel 5", "a.wav: has no channel 5; it has 1"),
    ("plan a.wav --start 17:30", "--start: '17:30' is no date and time like 2026-03-02T17:30"),
    (
        "plan a.wav --start 2026-03-02",
        "'2026-03-02' has no time of day: write 2026-03-02T09:30, say",
    ),
    (
        "plan a.wav --start 02.03.2026",
        "--start: '02.03.2026' is no date and time like 2026-03-02T17:30",
    ),
    (
        "plan a.wav --start 2026-03-02T25:30",
        "'2026-03-02T25:30' is no date and time like 2026-03-02T17:30",
    ),
    ("plan a.wav a.wav", "give each minute of the site once"),
    ("plan a.wav b.wav --start 2026-03-02T17:30", "give it once for each, in their order"),
    ("plan a.wav b.wav --marks m.csv", "give it once for each, in their order"),
    ("plan a.wav b.wav b.wav --weather dry --weather wet", "give it once for each, in their order"),
    ("plan a.wav --weather rainy", "--weather: 'rainy' is none of dry, wet"),
    ("plan a.wav --from 1m30", "not seconds, minutes:seconds or hours:minutes:seconds, like 1:30"),
    ("plan a.wav --from 5 --to 3", "--to 3 s must lie after --from 5 s"),
    ("plan a.wav --from 90", "a.wav: the part from 90 s on lies beyond its end at 8.0 s"),
    ("plan a.wav --print-record", "--print-record goes with --out, the folder to write it into"),
    ("plan", "write audiolevel plan RECORDING..."),
    ("plan nowhere.wav", "nowhere.wav: no such file; check the name"),
    ("plan site.toml", "export it as WAV, FLAC, Ogg or MP3"),
    ("plan plan.json", "export it as WAV, FLAC, Ogg or MP3"),
    ("plan .", "visits: holds no recording"),
    (
        "plan a.wav --site nowhere.toml",
        "cannot be read (No such file or directory); check the name",
    ),
    ("plan a.wav --site a.wav", "a.wav: is not text in UTF-8; save it as such"),
    (
        "plan a.wav --site plan.json",
        'a site file, whose lines look like [site] and name = "Quarry Lane"',
    ),
    ("plan a.wav --site .", ".: is no ordinary file; name one"),
    ("plan a.wav --json .", "name one, or - for the output"),
    ("plan a.wav --json a.wav", "write to another file, or the input is lost"),
    ("plan a.wav --page pdf", "--page: 'pdf' is none of html, none"),
    ("plna a.wav", "no command plna; did you mean plan?"),
    ("plans a.wav", "no command plans; did you mean plan?"),
    ("analyse a.wav", "measure, trial, plan, calibrate, sounds, batch, privacy, followup"),
    # a folder that is not there; every command that --help names, and none that it does not
    ("street", "sounds, batch, privacy, followup\n"),
    ("--site site.toml plan a.wav", "options follow the command, as in audiolevel plan --site"),
    ("measure", "write audiolevel measure RECORDING..."),
    ("measure a.wav --history out.txt --coarse 5", "--history takes one recording at a time"),
    ("trial a.wav", "--mode threshold needs --level, or --plan"),
    ("trial a.wav --mode rise --level -30", "--mode rise needs --change, or --plan"),
    (
        "trial a.wav --level -30 --change 6",
        "--change says nothing to --mode threshold; leave it out",
    ),
    ("trial a.wav --mode rise --change 0", "trigger change_db = 0: must lie between 0.01 and 200"),
    (
        "trial a.wav --site site.toml --level 80 --gain loud",
        "gain setting loud: the site file has low, mid, high",
    ),
    (
        "trial a.wav --level -30 --gain-db loud",
        "--gain-db: 'loud' is no number; write --gain-db 10",
    ),
    (
        "trial a.wav --level -30 --gain-db 300",
        "+300 dB from the recording's: must lie between -120 and 120 dB",
    ),
    ("trial a.wav --level -30 --rearm-s -1", "trigger rearm_s = -1: must lie between 0 and 86400"),
    ("trial a.wav --level -30 --window 2", "no option --window; did you mean --window-s?"),
    ("trial a.wav --plan site.toml", "make it by audiolevel plan --json"),
    (
        "trial a.wav --plan nowhere.json",
        "cannot be read (No such file or directory); check the name",
    ),
    ("trial a.wav --plan plan.json --level -30", "leave out --level and --change"),
    ("calibrate", "or some --reading, or --record with --at, or --noise, or --steady"),
    (
        "calibrate --reading -52 22 --reading -38 58",
        "number shown first, then dB FS between -300 and 0, like [22, -52]",
    ),
    (
        "calibrate --reading 22 -52",
        "the scale in a lull and in traffic, like [[22, -52], [58, -38]]",
    ),
    ("calibrate --reading 22", "write --reading SHOWN DBFS"),
    (
        "calibrate --reading 22 -52 --reading 58 6",
        "-300 and 0, like [22, -52] (dB SPL less the SPL at full scale)",
    ),
    (
        "calibrate --reading 22,-52 --reading 58,-38",
        "--reading: '22,-52' is no number; write --reading 22",
    ),
    (
        "calibrate --reading 58 -52 --reading 22 -38",
        "give the number shown first, then dB FS, like [22, -52]",
    ),
    ("calibrate a.wav --tone-db 100", "--tone-db: '100' is none of 94, 114"),
    ("calibrate --tone-db 94", "--tone-db and --meter-laeq-db need a RECORDING"),
    (
        "calibrate a.wav --tone-db 94",
        "record the calibrator alone, fitted tightly on the microphone",
    ),
    ("calibrate a.wav b.wav --tone-db 94", "write audiolevel calibrate [RECORDING]"),
    ("calibrate --sensitivity-dbfs 38", "mV/Pa or dBV/Pa are other units"),
    ("calibrate --sensitivity-dbfs 12.5mV/Pa", "write --sensitivity-dbfs 12.5"),
    (
        "calibrate a.wav --meter-laeq-db 300",
        "meter reading 300 dB: LAeq lies between 10 and 150 dB",
    ),
    (
        "calibrate a.wav --tone-db 94 --meter-laeq-db 60",
        "or some --reading, or --record with --at, or --noise, or --steady",
    ),
    (
        "calibrate --record a.wav",
        "--record and --at go together: --record FILE --at 1:05=63 --at …",
    ),
    (
        "calibrate --record a.wav --at 1:05",
        "--at: '1:05' is not like 1:05=63 (minute:second = number)",
    ),
    (
        "calibrate --record a.wav --at 0:03=22dB",
        "--at: '0:03=22dB' is not like 1:05=63 (minute:second = number)",
    ),
    (
        "calibrate --record a.wav --at 1:05=22 --at 1:30=30",
        "a.wav: has no moment at 65 s; it is 8 s long",
    ),
    ("calibrate --noise a.wav 0", "two quiet recordings are needed at gains at least 10 dB apart"),
    ("calibrate --noise a.wav", "--noise needs a value; write --noise FILE GAIN"),
    (
        "calibrate --second-tone a.wav",
        "or some --reading, or --record with --at, or --noise, or --steady",
    ),
    ("calibrate --steady nowhere.wav", "nowhere.wav: no such file; check the name"),
    ("sounds --render glass out.wav", "did you mean 'breaking glass'?"),
    ("sounds --render 'breaking glass'", "write --render NAME FILE.wav"),
    ("sounds --render 'breaking glass' out.mp3x", "give a name that ends in .wav"),
    (
        "sounds --render 'breaking glass' out.wav --distance-m 0",
        "--distance-m: 0 must lie between 0.01 and 10000",
    ),
    (
        "sounds --render 'breaking glass' out.wav --rate-hz 44.1",
        "--rate-hz: '44.1' is no whole number; write --rate-hz 44",
    ),
    ("sounds glass", "glass is one word too many; write audiolevel sounds"),
    ("batch", "write audiolevel batch FOLDER"),
    ("batch nowhere --out out", "name the folder that holds the recordings"),
    ("batch a.wav --out out", "name the folder that holds the recordings"),
    ("batch . --jobs 0 --out out", "--jobs: 0 must lie between 1 and 256"),
    (
        "batch . --manifest nowhere.csv --out out",
        "cannot be read (No such file or directory); check the name",
    ),
    (
        "batch . --manifest m.csv --out out",
        "else of it is known, and rows like visit1.wav,2026-03-20T08:00",
    ),
    (
        "privacy a.wav --assume-full-scale-db 30",
        "--assume-full-scale-db: 30 must lie between 60 and 200",
    ),
    ("privacy a.wav --date 02.03.2026", "date: '02.03.2026' is no day; write it like 2026-03-02"),
    ("privacy a.wav --date today", "date: 'today' is no day; write it like 2026-03-02"),
    ("privacy a.wav --walk-test m.csv --site site.toml", "and rows like 4,normal,20,7"),
    ("privacy a.wav --level 80", "audiolevel privacy --help lists them"),
    ("followup plan.json", "write audiolevel followup PLAN.json LOG..."),
    ("followup log.csv plan.json", "make it by audiolevel plan --json"),
    ("followup site.toml log.csv", "make it by audiolevel plan --json"),
    ("followup plan.json a.wav", "a.wav: is not text; export it as CSV"),
    ("followup nowhere.json log.csv", "cannot be read (No such file or directory); check the name"),
    (
        "followup plan.json nowhere.csv",
        "cannot be read (No such file or directory); check the name",
    ),
    ("followup plan.json log.csv --setting loud", "setting 'loud': is no number; write 84 dB, say"),
    (
        "followup plan.json log.csv --setting 9",
        "that unit (the plan's is 87.5 dB SPL, 7.9 on the camera's scale)",
    ),
    ("followup plan.json log.csv --shown 300", "give the number that was set"),
    (
        "followup plan.json log.csv --setting 84 --setting 85",
        "give it once for each, in their order",
    ),
    (
        "followup plan.json log.csv --time-column when",
        "no column 'when' for --time-column; it has time, type",
    ),
    ("followup plan.json log.csv --kind sound", "it has motion (30), audio (24)"),
    (
        "followup plan.json log.csv --kind-column typ --kind audio",
        "no column 'typ' for --kind-column; did you mean type?",
    ),
    (
        "followup plan.json log.csv --time-format DD.MM.YYYY",
        "and its form with --time-format, like '%d.%m.%Y %H:%M:%S'",
    ),
    (
        "followup plan.json log.csv --date-order dd/mm",
        "--date-order: 'dd/mm' is none of dmy, mdy, ymd",
    ),
    ("followup plan.json log.csv --zone Londn", "names look like Region/City, or CET"),
    (
        "followup plan.json log.csv --from 01.06.2024",
        "--from: '01.06.2024' is no date and time like 2026-03-02T17:30",
    ),
    (
        "followup plan.json log.csv --gap 2024-06-05",
        "'2024-06-05' is no stretch like 2026-03-02T17:30/2026-03-02T19:00",
    ),
    (
        "followup plan.json log.csv --gap 2024-06-06T10:00/2024-06-05T10:00",
        "give the earlier time first",
    ),
    (
        "followup plan.json log.csv --from 2024-06-12T00:00 --to 2024-06-05T00:00",
        "say what it covers with --from and --to",
    ),
    (
        "followup plan.json log.csv --length-column dur",
        "no column 'dur' for --length-column; it has time, type",
    ),
    (
        "followup plan.json log.csv --limit 5",
        "file says it, as limits.false_triggers_per_day (--site FILE.toml)",
    ),
]
MARKS: list[tuple[str, str]] = [
    ("", "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn"),
    ("horn\n", "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn"),
    (
        "start_s,end_s,sound\n2,1,horn\n",
        "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn",
    ),
    (
        "start_s,end_s,sound\nsoon,1,horn\n",
        "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn",
    ),
    (
        "start_s,end_s,sound\n0:01,0:02\n",
        "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn",
    ),
    (
        "start_s,sound\n1,horn\n",
        "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn",
    ),
    ("1,2\n3,4\n", "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn"),
    ("2,1,horn\n", "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn"),
    (
        "start_s,end_s,sound,label\n1,2,horn,maybe\n",
        "'1,2,horn,maybe': label must be one of wanted, false, unsure",
    ),
    (
        "start_s,end_s,sound,label\n1,2,horn,fals\n",
        "'1,2,horn,fals': label must be one of wanted, false, unsure",
    ),
    (
        "start_s,end_s,sound,distance_m\n1,2,horn,near\n",
        "distance_m must be metres above 0 like 12.5, or empty",
    ),
    (
        "start_s,end_s,sound,distance_m\n1,2,horn,0\n",
        "distance_m must be metres above 0 like 12.5, or empty",
    ),
    ("start_s,end_s,sound\n100,102,horn\n", "check which marks belong to it"),
    ("start_s,end_s,sound\n0,8,horn\n", "mark the wanted sounds alone, or record more"),
    (
        "start_s;end_s;sound\n1;2;horn;3\n",
        "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn",
    ),
    (
        "start_s,end_s,sound\n2026-03-02T17:30:05,2026-03-02T17:30:07,horn\n",
        "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn",
    ),
]
# a log, and options beside it
LOGS: list[tuple[str, str, str]] = [
    ("", "", "export the camera's log again"),
    ("time,kind\n", "", "say what it covers with --from and --to"),
    (
        "when,kind\nyesterday,audio\ntoday,audio\n",
        "",
        "and its form with --time-format, like '%d.%m.%Y %H:%M:%S'",
    ),
    (
        "01/02/2024 10:00:00,audio\n02/03/2024 10:00:00,audio\n",
        "",
        "and no row of the log tells which; say so by --date-order",
    ),
    (
        "Zeit;Ereignis\n15.06.2024 10:00:00;Ton\n16.06.2024 11:00:00;Bild\n",
        "--kind sound",
        "no row of kind 'sound'; it has ton (1), bild (1)",
    ),
    (
        "Zeit;Ereignis\n15.06.2024 10:00:00;Ton\n16.06.2024 11:00:00;Bild\n",
        "--kind-column Ereigniss",
        "column 'Ereigniss' for --kind-column; did you mean Ereignis?",
    ),
    (
        "Zeit;Ereignis\n15.06.2024 10:00:00;Ton\n16.06.2024 11:00:00;Bild\n",
        "--kind-column Ereignis",
        "say with --kind which are the sound trigger's",
    ),
    (
        "2024-06-05T10:00:00,audio\n2024-06-05T10:00:00,audio\n",
        "",
        "say what it covers with --from and --to",
    ),
    (
        "2024-06-05T10:00:00Z,audio\n2024-06-06T10:00:00,audio\n",
        "",
        "some times have a zone and some have none; export it again",
    ),
]


@pytest.fixture(scope="module")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two recordings, a site, its plan, marks and a log, for commands to go wrong beside."""
    place = tmp_path_factory.mktemp("furnished")
    rng = np.random.default_rng(1)
    for name in "ab":
        level = np.repeat(10 ** rng.uniform(-2.5, -1.2, 8), RATE)
        sf.write(place / f"{name}.wav", np.clip(level * rng.normal(0, 1, len(level)), -1, 1), RATE)
    (place / "site.toml").write_text(
        "[microphone]\nspl_at_full_scale_db = 110\n[display]\nreadings = [[3, -54], [9, -30]]\n"
        "[gain]\nrecorded_at = 'mid'\nsteps = [['low', -12], ['mid', 0], ['high', 12]]\n"
    )
    (place / "m.csv").write_text("start_s,end_s,sound\n1,2,horn\n")
    rows = [
        f"2024-06-{day:02d}T10:{minute:02d}:00,{'audio' if minute % 2 else 'motion'}\n"
        for day in range(5, 11)
        for minute in range(0, 60, 7)
    ]
    (place / "log.csv").write_text("time,type\n" + "".join(rows))
    words = ("plan", place / "a.wav", "--site", place / "site.toml", "--json", place / "plan.json")
    assert run(*words).exit_code == 0
    return place


@pytest.fixture
def place(furnished: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of one's own to work in."""
    shutil.copytree(furnished, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def refused(place: Path, words: list[str], said: str) -> None:
    before = {path: path.read_bytes() for path in place.rglob("*") if path.is_file()}
    done = run(*words)
    assert said in done.stderr
    assert done.stderr.startswith("audiolevel: ")
    assert done.stderr.count("\n") == 1
    assert (done.exit_code, done.stdout) in ((1, ""), (2, ""))
    # a fault of the code has its traceback here
    assert isinstance(done.exception, SystemExit)
    assert {path: path.read_bytes() for path in place.rglob("*") if path.is_file()} == before


def test_there_are_enough() -> None:
    assert len(SITES) + len(COMMANDS) + len(MARKS) + len(LOGS) >= 161


@pytest.mark.parametrize(("text", "said"), SITES)
def test_a_site_file(place: Path, text: str, said: str) -> None:
    (place / "typed.toml").write_text(text)
    words = ["plan", "a.wav", "--site", "typed.toml", "--json", "j.json", "--out", "out"]
    refused(place, words, said)
    assert "typed.toml: " in run(*words).stderr


@pytest.mark.parametrize(("typed", "said"), COMMANDS)
def test_a_command(place: Path, typed: str, said: str) -> None:
    refused(place, shlex.split(typed), said)


@pytest.mark.parametrize(("text", "said"), MARKS)
def test_marks(place: Path, text: str, said: str) -> None:
    (place / "t.csv").write_text(text)
    words = ["plan", "a.wav", "--site", "site.toml", "--marks", "t.csv", "--json", "j.json"]
    refused(place, words, said)


@pytest.mark.parametrize(("text", "typed", "said"), LOGS)
def test_a_log(place: Path, text: str, typed: str, said: str) -> None:
    (place / "t.csv").write_text(text)
    words = ["followup", "plan.json", "t.csv", "--json", "j.json", *shlex.split(typed)]
    refused(place, words, said)
