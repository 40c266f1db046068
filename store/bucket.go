package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"strings"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"
)

// A bucket keeps photos as objects of an S3-compatible bucket.
type bucket struct {
	client *minio.Client
	name   string
	prefix string
}

func openBucket(ctx context.Context, address string) (*bucket, error) {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || len(u.Path) < 2 {
		return nil, errors.New("the s3:// address of the photos cannot be read: write s3://KEY:SECRET@HOST/BUCKET")
	}
	name, prefix, _ := strings.Cut(strings.Trim(u.Path, "/"), "/")
	secret, _ := u.User.Password()
	client, err := minio.New(u.Host, &minio.Options{
		Creds:  credentials.NewStaticV4(u.User.Username(), secret, ""),
		Secure: u.Query().Get("tls") != "false",
		Region: u.Query().Get("region"),
	})
	if err != nil {
		return nil, fmt.Errorf("the s3:// address of the photos: %w", err)
	}
	there, err := client.BucketExists(ctx, name)
	if err == nil && !there {
		err = client.MakeBucket(ctx, name, minio.MakeBucketOptions{Region: u.Query().Get("region")})
	}
	if err != nil {
		return nil, fmt.Errorf("the bucket %s at %s cannot be used: check its address, key and rights (%w)", name, u.Host, err)
	}
	if prefix != "" {
		prefix += "/"
	}
	return &bucket{client, name, prefix}, nil
}

// Put returns when the bucket has acknowledged the object.
func (b *bucket) Put(ctx context.Context, name string, data []byte) error {
	if err := checkPut(name, data); err != nil {
		return err
	}
	_, err := b.client.PutObject(ctx, b.name, b.prefix+name, bytes.NewReader(data), int64(len(data)), minio.PutObjectOptions{})
	if err != nil {
		return fmt.Errorf("store: keep photo %s: %w", name, err)
	}
	return nil
}

func (b *bucket) Get(ctx context.Context, name string) ([]byte, error) {
	if !photoName.MatchString(name) {
		return nil, noPhoto(name)
	}
	o, err := b.client.GetObject(ctx, b.name, b.prefix+name, minio.GetObjectOptions{})
	if err == nil {
		defer o.Close()
		var data []byte
		if data, err = io.ReadAll(o); err == nil {
			return checkGot(name, data)
		}
	}
	if minio.ToErrorResponse(err).Code == minio.NoSuchKey {
		return nil, noPhoto(name)
	}
	return nil, fmt.Errorf("store: photo %s: %w", name, err)
}
