package testservers_test

import (
	"context"
	"testing"

	"leafgauge/internal/testservers"

	"github.com/jackc/pgx/v5"
	"github.com/redis/go-redis/v9"
	"github.com/stretchr/testify/require"
)

func TestEveryTestHasItsOwnDatabase(t *testing.T) {
	one, two := testservers.Postgres(t), testservers.Postgres(t)
	require.NotEqual(t, one, two)
	for _, address := range []string{one, two} {
		db, err := pgx.Connect(t.Context(), address)
		require.NoError(t, err)
		_, err = db.Exec(t.Context(), "CREATE TABLE mine (n INTEGER)") // the second would fail on a shared one
		require.NoError(t, err)
		require.NoError(t, db.Close(t.Context()))
	}
}

func TestADatabaseIsDroppedWithItsTest(t *testing.T) {
	var address string
	t.Run("uses one", func(t *testing.T) { address = testservers.Postgres(t) })
	_, err := pgx.Connect(t.Context(), address)
	require.ErrorContains(t, err, "does not exist")
}

func TestEveryTestHasItsOwnRedis(t *testing.T) {
	client := func(t *testing.T) *redis.Client {
		o, err := redis.ParseURL(testservers.Redis(t))
		require.NoError(t, err)
		c := redis.NewClient(o)
		t.Cleanup(func() { c.Close() })
		return c
	}
	one, two := client(t), client(t)
	require.NoError(t, one.Set(t.Context(), "here", "1", 0).Err())
	n, err := two.Exists(t.Context(), "here").Result()
	require.NoError(t, err)
	require.Zero(t, n)

	t.Run("a later test finds nothing", func(t *testing.T) {
		keys, err := client(t).Keys(context.Background(), "*").Result()
		require.NoError(t, err)
		require.Empty(t, keys)
	})
}
