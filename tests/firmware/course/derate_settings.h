/* In place of generated settings: variables that a course fills. All numbers are invented. */
#ifndef DERATE_SETTINGS_H
#define DERATE_SETTINGS_H

#include "derate.h"
#include POLICY_HEADER

#define MOST_CHANNELS 3u
#define MOST_LAGS 2u
#ifdef PREDICTIVE_H
#define DERATE_LAMP_POLICY_WORDS (MOST_CHANNELS * MOST_LAGS + 1u)
#else
#define DERATE_LAMP_POLICY_WORDS 1u
#endif

extern struct derate_settings derate_lamp_settings;
extern struct derate_policy derate_lamp_policy;

/* Fill the settings; spoil says whether with something that cannot work, and of what kind. */
void course_settings(uint8_t spoil);

/* Fill the policy. spoil: perhaps with what cannot work. */
void course_policy(uint8_t channels, uint8_t spoil);

#endif
