// Package catalog knows the hinges the shop supplies, how one sits where another was, and
// what suits a door. Each rule of the trade names its source. It never reads a file, a
// clock or a database.
package catalog
