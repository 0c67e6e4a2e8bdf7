#!/bin/sh
# Builds the firmware images of the demo's eight-bit boards from the source beside this file.
# Needs avr-gcc and avr-libc. An argument names another folder for the images; the default is this one.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
images=${1:-$here}
mkdir -p "$images"

build() {
    board=$1
    chip=$2
    shift 2
    modules=
    for module in clock link "$@"; do
        modules="$modules $module.c"
    done
    (cd "$here/source" && avr-gcc -std=gnu99 -Os -g0 -mmcu="$chip" -DF_CPU=16000000UL -Wall -Wextra -Werror \
        -ffunction-sections -fdata-sections -Wl,--gc-sections "$board.c" $modules -o "$images/$board.elf")
}

build BD01 atmega2560 bus display encoder gauge scale servo
build BD03 atmega328p contact pixels
build BD04 atmega328p analogue bus contact display scale servo
build BD05 atmega2560 analogue chain contact encoder gauge matrix scale servo
build BD06 atmega328p bus contact display gauge scale
build BD08 atmega2560 analogue contact encoder matrix scale servo
build BD11 atmega328p chain contact gauge
