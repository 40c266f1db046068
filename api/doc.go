// Package api is leafgauge's HTTP side: the JSON API under /api/v1, the customer's pages and
// the counter's pages. It decides nothing: every act goes to a Desk. It never touches a
// database or a job queue, and writes no customer's key into a log.
package api
