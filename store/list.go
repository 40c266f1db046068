package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"leafgauge/quote"
)

// pageLimit is the most lines of one page of a list.
const pageLimit = 1000

// List implements quote.Repository.
func (s *Store) List(ctx context.Context, f quote.Filter) (page []quote.Summary, total int, err error) {
	sort, err := quote.ParseSort(string(f.Sort))
	if err != nil {
		return nil, 0, err
	}
	order := map[quote.Sort]string{
		quote.SortAge:     "created_us, id",
		quote.SortNewest:  "created_us DESC, id DESC",
		quote.SortUpdated: "updated_us DESC, id DESC",
		quote.SortStatus:  statusOrder() + ", created_us, id",
	}[sort]
	where, args := conditions(f)
	limit := f.Limit
	if limit <= 0 {
		limit = 50
	}
	limit = min(limit, pageLimit)

	err = s.inSnapshot(ctx, func(tx *sql.Tx) error {
		if err := tx.QueryRowContext(ctx, "SELECT COUNT(*) FROM inquiry"+where, args...).Scan(&total); err != nil {
			return asDomain(err, "count inquiries")
		}
		query := strings.Replace(selectInquiry, "\n\tFROM inquiry", ", best, top, fit, p, total\n\tFROM inquiry", 1) + where +
			fmt.Sprintf(" ORDER BY %s LIMIT %d OFFSET %d", order, limit, max(f.Offset, 0))
		page, err = collect(ctx, tx, func(r row) (l quote.Summary, err error) {
			l.Inquiry, err = inquiryFields(r, &l.Best, &l.Top, &l.Fit, &l.P, &l.Total)
			l.Turn = l.Inquiry.Turn()
			return l, err
		}, query, args...)
		if err != nil {
			return asDomain(err, "list inquiries")
		}
		return asDomain(listPhotos(ctx, tx, page), "list photos")
	})
	if err != nil {
		return nil, 0, err
	}
	return page, total, nil
}

// listPhotos fills in the photos of a page in one query.
func listPhotos(ctx context.Context, tx *sql.Tx, page []quote.Summary) error {
	if len(page) == 0 {
		return nil
	}
	at := map[quote.ID]int{}
	ids := make([]string, len(page))
	for i := range page {
		page[i].Photos = []quote.Photo{}
		at[page[i].ID] = i
		ids[i] = fmt.Sprint(page[i].ID)
	}
	_, err := collect(ctx, tx, func(r row) (struct{}, error) {
		id, p, err := scanPhoto(r)
		if err == nil {
			page[at[id]].Photos = append(page[at[id]].Photos, p)
		}
		return struct{}{}, err
	}, selectPhoto+" WHERE inquiry IN ("+strings.Join(ids, ", ")+") ORDER BY inquiry, n")
	return err
}

// conditions is the WHERE of a filter.
func conditions(f quote.Filter) (where string, args []any) {
	var all []string
	arg := func(v any) string {
		args = append(args, v)
		return fmt.Sprintf("$%d", len(args))
	}
	in := func(pick func(quote.Status) bool) string {
		list := []string{"''"} // an empty list is no SQL
		for _, s := range quote.Statuses {
			if pick(s) {
				list = append(list, "'"+string(s)+"'")
			}
		}
		return "status IN (" + strings.Join(list, ", ") + ")"
	}
	switch {
	case len(f.Statuses) > 0:
		wanted := map[quote.Status]bool{}
		for _, s := range f.Statuses {
			wanted[s] = true
		}
		all = append(all, in(func(s quote.Status) bool { return wanted[s] }))
	case !f.All:
		all = append(all, "("+in(quote.Status.Open)+" OR unread = 1)")
	}
	if f.Turn != "" {
		turn := in(func(s quote.Status) bool { return s.Turn() == f.Turn })
		if f.Turn == quote.ByCounter {
			all = append(all, "("+turn+" OR unread = 1)")
		} else {
			all = append(all, "("+turn+" AND unread = 0)")
		}
	}
	for _, word := range strings.Fields(strings.ToLower(clean(f.Search))) {
		like := arg("%" + strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(strings.TrimPrefix(word, "#")) + "%")
		all = append(all, fmt.Sprintf(`(search LIKE %[1]s ESCAPE '\' OR LOWER(top) LIKE %[1]s ESCAPE '\' OR EXISTS
			(SELECT 1 FROM quote WHERE quote.inquiry = inquiry.id AND
			(LOWER(quote.stock_number) LIKE %[1]s ESCAPE '\' OR LOWER(quote.number) LIKE %[1]s ESCAPE '\')))`, like))
	}
	if len(all) == 0 {
		return "", args
	}
	return " WHERE " + strings.Join(all, " AND "), args
}

// statusOrder sorts by the order of an inquiry's life.
func statusOrder() string {
	b := strings.Builder{}
	b.WriteString("CASE status")
	for i, s := range quote.Statuses {
		fmt.Fprintf(&b, " WHEN '%s' THEN %d", s, i)
	}
	return b.String() + " END"
}
