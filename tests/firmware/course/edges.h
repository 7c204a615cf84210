/* Which ways the C under test went: pairs of places that came one after the other. */
#ifndef EDGES_H
#define EDGES_H

/* Forget them. */
void edges_begin(void);

/* How many were not seen before, or never so often (1, 2, 3, 4 to 7, 8 to 15 .. times). */
unsigned edges_new(void);

/* How many were seen in all. */
unsigned edges_seen(void);

#endif
