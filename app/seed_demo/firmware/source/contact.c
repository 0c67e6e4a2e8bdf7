#include "contact.h"

#include <avr/io.h>

#include "link.h"

void contacts_start(struct contact *contacts, uint8_t count)
{
    for (; count; count--, contacts++)
        contacts->pins[2] |= _BV(contacts->bit);
}

void contact_settle(struct contact *contact, uint8_t closed_now)
{
    if (closed_now == contact->closed) {
        contact->changing_ms = 0;
    } else if (++contact->changing_ms >= SETTLE_MS) {
        contact->changing_ms = 0;
        contact->closed = closed_now;
        link_send(contact->number, closed_now ? 1000 : 0);
    }
}

void contacts_scan(struct contact *contacts, uint8_t count)
{
    for (; count; count--, contacts++)
        contact_settle(contacts, !(*contacts->pins & _BV(contacts->bit)));
}
