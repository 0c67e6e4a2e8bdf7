/* Serial link with the simulator's computer.
 *
 * A message has 8 bytes: 0xA5, the signal's number, its value as a 32-bit integer (low byte first, in
 * thousandths of the signal's unit), the sum of those six bytes, and 0x5A. */
#ifndef LINK_H
#define LINK_H
#include <stdint.h>

#define LINK_LOST_MS 2000

void link_start(uint32_t baud);
/* Takes a whole message if there is one: true, with its number and value. */
uint8_t link_take(uint8_t *number, int32_t *value);
void link_send(uint8_t number, int32_t value);
/* True when no message has come for two seconds: outputs then go to their safe state. */
uint8_t link_lost(void);
#endif
