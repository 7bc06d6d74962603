"""The sentence of every code that a logger's file can give; texts to be translated where pages are made."""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["WORDS"]

WORDS: Mapping[str, str] = {
    "log.said": "Read as: {dates}, {temperature_unit}, channel {channel_number} ({channel}), "
    "one reading every {interval_s} s, {readings} readings. Between readings the temperature is taken "
    "as a straight line.",
    "log.empty": "The file is empty.",
    "log.too_large": "The file has {bytes} bytes; a log may have {most}. Send the part that belongs to this load.",
    "log.too_many_rows": "The file has {rows} lines; a log may have {most}. Send the part that belongs to this load.",
    "log.too_wide": "Line {line} has {columns} columns; a log may have {most}. Export time and temperature alone.",
    "log.line_too_long": "Line {line} has {characters} characters; a line of a log has at most {most}. "
    "This may be no log: let the logger's program write CSV and send that.",
    "log.too_slow": "This file takes too long to read. Export the part that belongs to this load and send that.",
    "log.takes_memory": "This file needs too much memory to read. Export the part that belongs to this load "
    "and send that.",
    "log.ended": "Reading this file was cut short three times, by no fault of the file. Send it again; if that goes "
    "wrong too, export the part that belongs to this load and send that.",
    "log.unreadable": "This file could not be read. Let the logger's program write it again and send that.",
    "log.packed": "This is a packed file or a spreadsheet. Save the log as CSV and send that.",
    "log.binary": "This is no text file. Let the logger's program write CSV and send that.",
    "log.no_columns": "No columns were found: a log has a time and a temperature on each line, "
    "parted by comma, semicolon, tab, | or blanks.",
    "log.no_times": "No column of times was found.",
    "log.no_temperatures": "No column of temperatures was found.",
    "log.too_few": "Only {readings} readings could be read: that is no log.",
    "log.not_a_reading": "Line {line} is no reading.",
    "log.not_a_number": "Line {line}: the temperature is not a number.",
    "log.impossible": "Line {line}: {value_c} °C is no temperature of an oven; the sensor may be broken.",
    "log.out_of_order": "Line {line} is older than a line before it.",
    "log.repeated": "Line {line} repeats line {other_line}.",
    "log.two_values": "Line {line} has another temperature than line {other_line} at the same time.",
    "log.coarse_clock": "From line {line} on several readings have the same time: the clock is shown too coarsely.",
    "log.gap": "Before line {line} nothing was read for {seconds} s.",
    "log.cut_off": "Line {line} breaks off in the middle.",
    "log.hour_twice": "Line {line}: the clocks went back and this hour came twice, but is in the log once; "
    "it is taken as the first.",
    "log.from_the_future": "The last reading ({last}) is later than now.",
    "log.another_time": "The log runs from {first} to {last}; the load from {started} to {ended}.",
    "log.shorter": "The log covers {covered} of the load's {lasted} minutes.",
    "log.ask_date_order": "Is {example} written with the day first or the month first?",
    "log.ask_unit": "Are the temperatures (such as {value}) in Celsius, in Fahrenheit or in kelvin?",
    "log.ask_fahrenheit": "{highest} °C is outside what is done at this step; as Fahrenheit it would be {other} °C. "
    "Did you mean Fahrenheit?",
    "log.ask_celsius": "The log reads up to {highest} °F, which is {other} °C and not what is done at this step. "
    "Did you mean Celsius?",
    "log.ask_kelvin": "The log reads up to {highest}, which is not what is done at this step; as kelvin it would be "
    "{other} °C. Did you mean kelvin?",
    "log.ask_probe": "Where was the probe of this log?",
    "log.ask_oven": "The file names {place}, the load was in {own}. Is it the log of this load?",
    "log.another_oven": "This is the log of another load: it names {place}, the load was in {own}. "
    "Send the log of this load.",
    "log.ask_channel": "Which channel belongs to this load?",
    "log.ask_zone": "In which zone does the logger's clock run?",
    "log.ask_start": "When did the log start?",
    "log.ask_elapsed_unit": "Is the time since the start (such as {value}) in seconds, minutes or hours?",
    "log.ask_clock": "Line {line} shows a time that the clocks in {zone} skipped. "
    "Was the logger's clock left unchanged?",
}
