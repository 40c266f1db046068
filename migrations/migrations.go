// Package migrations embeds the database's schema, one file a step, in order. A step is
// never edited once it has been released.
package migrations

import "embed"

// FS holds the steps, named as goose reads them.
//
//go:embed *.sql
var FS embed.FS
