/* In place of the generated settings of the line; invented. */
#define LINK_SENSORS 2u
#define LINK_CHANNELS 3u
#define LINK_IDENTITY course_identity

extern uint32_t course_identity;
