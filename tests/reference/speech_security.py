"""Published thresholds of speech privacy.

Uniformly weighted ratio, third-octaves 160 Hz to 5 kHz clipped at −32 dB: B. N. Gover and J. S.
Bradley, Measures for assessing architectural speech security (privacy) of closed offices and
meeting rooms, J. Acoust. Soc. Am. 116 (2004) 3480-3490. Its abstract was read: 19 subjects, 500
English sentences; three thresholds are named, of intelligibility, of cadence and of audibility.
Their numbers, the frequency range and the clipping are from memory: the paper was not read.

Privacy distance: where the speech transmission index falls below 0.20, distraction distance below
0.50, ISO 3382-3:2012, 6.3 (read in the report of an open library that implements the standard).
"""

BANDS_HZ = (160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000)
CLIPPED_AT_DB = -32.0
WORD_THRESHOLD_DB = -16.0
CADENCE_THRESHOLD_DB = -20.0
AUDIBILITY_THRESHOLD_DB = -22.0
# of the speech transmission index; the same number is taken of the speech intelligibility index
SENTENCES_INDEX = 0.20
