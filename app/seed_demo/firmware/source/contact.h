/* Contacts: switches and buttons, each settled for 10 ms before its change is told. */
#ifndef CONTACT_H
#define CONTACT_H
#include <stdint.h>

#define SETTLE_MS 10

struct contact {
    volatile uint8_t *pins; /* PINx of its port; 0 for a contact read elsewhere, as in a matrix */
    uint8_t bit;
    uint8_t number; /* of its signal */
    uint8_t closed;
    uint8_t changing_ms;
};

/* Turns the pull-up of each contact on. PORTx lies two addresses after PINx on these chips. */
void contacts_start(struct contact *contacts, uint8_t count);
/* Once a millisecond: tells the settled changes to the link. */
void contacts_scan(struct contact *contacts, uint8_t count);
void contact_settle(struct contact *contact, uint8_t closed_now);
#endif
