"""Rewrites pedal-harp and keyboard scores in MusicXML for a given lever harp."""
