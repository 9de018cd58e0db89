INSERT INTO settings (hash, content) VALUES ('s1', '{"conditioning":{"cfc":1000},"rating":{"warping_band":0.1}}');
INSERT INTO inputs (hash, content) VALUES ('i1', '{"file":"test.001","unit":"g"}'), ('i2', '{"file":"model.csv","unit":"g"}');
INSERT INTO ratings (key, overall, corridor, phase, magnitude, slope, grade, shift_s, samples, settings_hash, ingredients, version)
VALUES ('k1', 0.8125, 0.75, 1.0, 0.875, 0.6875, 'good', -0.0005, 200, 's1', '{"magnitude":{"error":0.0625}}', '0.0.9');
INSERT INTO runs (who, started, version, campaign_sha256) VALUES ('analyst', '2030-01-02 03:04:05.678901', '0.0.9', 'abc');
INSERT INTO entries (run_id, campaign, release, load_case, channel, repeat, rating_key, reference_hash, candidate_hash)
VALUES (1, 'KELP-M', 'A1', 'head-drop', '11HEAD0000KMACZA', 'KELPM_HD01', 'k1', 'i1', 'i2');
INSERT INTO notes (campaign, release, text, who, entered) VALUES ('KELP-M', 'A1', 'first look; fine', 'lab', '2030-01-03 08:00:00.000000')
