package worker

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"leafgauge/quote"

	"github.com/hibiken/asynq"
	"github.com/redis/go-redis/v9"
)

const (
	queueName   = "measure"
	taskMeasure = "measure"

	// measureTimeout is how long one revision may take, all its photos together. Measuring
	// a 12-megapixel photo takes under half a second; six of 50 megapixels on a busy machine, half a minute.
	measureTimeout = 3 * time.Minute

	// maxRetry is how often a fault is tried again before a person must look. With
	// retryDelay it spans about two minutes, which outlasts a database's restart.
	maxRetry = 6
)

// job is a task's payload: what to measure, never the thing itself.
type job struct {
	Inquiry  quote.ID `json:"inquiry"`
	Revision int      `json:"revision"`
}

// taskID names the job of one revision. A repeated attempt has a name of its own, because a
// job that is kept in the queue (archived, or active for ever) refuses another of its name.
func (j job) taskID(attempt int) string {
	id := fmt.Sprintf("measure:%d:%d", j.Inquiry, j.Revision)
	if attempt > 1 {
		id += ":" + strconv.Itoa(attempt)
	}
	return id
}

// A Queue is the job queue in Redis.
type Queue struct {
	redis redis.UniversalClient
}

// OpenQueue connects to the Redis at url (redis://[:password@]host:port[/database], rediss://,
// redis-socket:// or redis-sentinel://) and checks that it answers.
func OpenQueue(ctx context.Context, url string) (*Queue, error) {
	opt, err := asynq.ParseRedisURI(url)
	if err != nil {
		// The parser's own text repeats the URL, password included.
		return nil, errors.New("the queue's address is not a Redis URL such as redis://localhost:6379/0")
	}
	client, ok := opt.MakeRedisClient().(redis.UniversalClient)
	if !ok {
		return nil, fmt.Errorf("worker: unknown kind of Redis connection %T", opt)
	}
	q := &Queue{client}
	if err := q.Ping(ctx); err != nil {
		client.Close()
		return nil, fmt.Errorf("the queue's Redis does not answer: %w", err)
	}
	return q, nil
}

// Ping checks that Redis answers.
func (q *Queue) Ping(ctx context.Context) error { return q.redis.Ping(ctx).Err() }

// Close ends the connection.
func (q *Queue) Close() error { return q.redis.Close() }

// Depth is how many jobs are in the queue, by what they wait for.
type Depth struct{ Pending, Active, Retry, Archived int }

// Depth counts the jobs in the queue.
func (q *Queue) Depth() (Depth, error) {
	info, err := asynq.NewInspectorFromRedisClient(q.redis).GetQueueInfo(queueName)
	if errors.Is(err, asynq.ErrQueueNotFound) {
		return Depth{}, nil
	}
	if err != nil {
		return Depth{}, fmt.Errorf("worker: look at the queue: %w", err)
	}
	return Depth{info.Pending, info.Active, info.Retry, info.Archived}, nil
}

// put adds a job. A job of that name which is there already is left alone: its state is
// returned, and "" where the job was added.
func (q *Queue) put(ctx context.Context, j job, attempt int) (there string, err error) {
	payload, err := json.Marshal(j)
	if err != nil {
		return "", err
	}
	id := j.taskID(attempt)
	// A client remembers that it has registered the queue, and would not do it again after
	// Redis lost everything; a new one is cheap.
	_, err = asynq.NewClientFromRedisClient(q.redis).EnqueueContext(ctx, asynq.NewTask(taskMeasure, payload),
		asynq.Queue(queueName), asynq.TaskID(id), asynq.MaxRetry(maxRetry), asynq.Timeout(measureTimeout))
	if !errors.Is(err, asynq.ErrTaskIDConflict) {
		return "", err
	}
	info, err := asynq.NewInspectorFromRedisClient(q.redis).GetTaskInfo(queueName, id)
	if errors.Is(err, asynq.ErrTaskNotFound) { // it ended a moment ago
		return "ended", nil
	}
	if err != nil {
		return "", err
	}
	return info.State.String(), nil
}

// retryDelay is the pause before try n+1: 1, 2, 4, … s, at most a minute.
func retryDelay(n int, _ error, _ *asynq.Task) time.Duration {
	return min(time.Second<<min(n, 6), time.Minute)
}

// readJob reads a task's payload.
func readJob(t *asynq.Task) (job, error) {
	var j job
	d := json.NewDecoder(strings.NewReader(string(t.Payload())))
	if err := d.Decode(&j); err != nil || j.Inquiry < 1 || j.Revision < 1 {
		return job{}, fmt.Errorf("worker: unreadable job %q: %w", t.Payload(), asynq.SkipRetry)
	}
	return j, nil
}
