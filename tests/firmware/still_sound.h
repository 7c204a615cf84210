/* For the proof of functions that write memory before they read settings: what was sound, and was
 * not written, still is. Kept apart, since it leads provers astray where it is not needed. */
#include "derate.h"

/*@ lemma readings_still{A, B}: \forall struct derate_table *table;
      \at(table->knots, A) == \at(table->knots, B) &&
      \at(table->reading_centi_c, A) == \at(table->reading_centi_c, B) &&
      readings_kept{A, B}(table, \at(table->knots, A)) &&
      readings_sound{A}(table) ==> readings_sound{B}(table);
    lemma shares_still{A, B}: \forall uint16_t *knot;
      shares_kept{A, B}(knot) && shares_sound{A}(knot) ==> shares_sound{B}(knot);
    lemma channel_still{A, B}: \forall uint16_t *share, integer i;
      channel_kept{A, B}(share, i) && channel_sound{A}(share, i) ==> channel_sound{B}(share, i);
    lemma each_still{A, B}: \forall uint16_t *share, integer channels, i; 0 <= i < channels ==>
      channels_kept{A, B}(share, channels) && channels_sound{A}(share, channels) ==>
      channel_sound{A}(share, i) && channel_kept{A, B}(share, i) && channel_sound{B}(share, i);
    lemma channels_still{A, B}: \forall uint16_t *share, integer channels;
      channels_kept{A, B}(share, channels) && channels_sound{A}(share, channels) ==>
      channels_sound{B}(share, channels); */
