/* In place of the generated settings of the line; invented. */
#define LINK_SENSORS 2u
#define LINK_CHANNELS 3u
#define LINK_IDENTITY UINT32_C(0x12345678)
