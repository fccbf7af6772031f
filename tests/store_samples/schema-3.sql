-- tests.qc.store.test_migrations.write_sample(path) wrote this
BEGIN TRANSACTION;
CREATE TABLE build (
	seq INTEGER NOT NULL, 
	build TEXT NOT NULL, 
	engine TEXT, 
	serial TEXT, 
	material TEXT, 
	received_on INTEGER, 
	shipped_on INTEGER, 
	note TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "build" VALUES(1,'K-17','straight six',NULL,NULL,NULL,NULL,NULL,2,NULL,NULL,NULL,NULL,2);
CREATE TABLE choice (
	seq INTEGER NOT NULL, 
	machine TEXT NOT NULL, 
	operation TEXT NOT NULL, 
	characteristic TEXT NOT NULL, 
	method TEXT NOT NULL, 
	state TEXT NOT NULL, 
	name TEXT NOT NULL, 
	value TEXT, 
	reason TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "choice" VALUES(1,'hone-2','finish_bore','bore_diameter','two-point','plate_on','family','lognormal','skewed by the stop',NULL,NULL,NULL,NULL,NULL,2);
CREATE TABLE content (
	file_id INTEGER NOT NULL, 
	size INTEGER NOT NULL, 
	packed BLOB NOT NULL, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (file_id), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "content" VALUES(1,5,X'789C4BD44B2E2E0300052701DC',1);
INSERT INTO "content" VALUES(2,11,X'789C2B4A4DCE2F4A29D64B2E2E03001AC8046D',2);
INSERT INTO "content" VALUES(3,5,X'789C4BD24B2E2E0300052C01DD',3);
CREATE TABLE context (
	id INTEGER NOT NULL, 
	file_id INTEGER NOT NULL, 
	sheet TEXT, 
	"column" TEXT NOT NULL, 
	build TEXT, 
	engine TEXT, 
	serial TEXT, 
	unit TEXT, 
	gauge TEXT, 
	operator TEXT, 
	sized_with TEXT, 
	master TEXT, 
	torque TEXT, 
	material TEXT, 
	note TEXT, 
	relative INTEGER NOT NULL, 
	made_is_date INTEGER NOT NULL, 
	part_c REAL, 
	gauge_c REAL, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "context" VALUES(1,1,NULL,'value','K-17',NULL,NULL,'mm',NULL,NULL,NULL,NULL,NULL,NULL,NULL,0,0,NULL,NULL,1);
CREATE TABLE decided (
	held_id INTEGER NOT NULL, 
	decision_id INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (held_id), 
	FOREIGN KEY(held_id) REFERENCES held (id), 
	FOREIGN KEY(decision_id) REFERENCES decision (seq), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "decided" VALUES(1,1,4);
CREATE TABLE decision (
	seq INTEGER NOT NULL, 
	finding_id INTEGER NOT NULL, 
	decision TEXT NOT NULL, 
	reason TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(finding_id) REFERENCES finding (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "decision" VALUES(1,1,'discard','misread',4);
CREATE TABLE event (
	seq INTEGER NOT NULL, 
	event TEXT NOT NULL, 
	at INTEGER NOT NULL, 
	machine TEXT, 
	gauge TEXT, 
	operation TEXT, 
	at_is_date INTEGER NOT NULL, 
	note TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "event" VALUES(1,'stones_changed',1780000000000000,'hone-2',NULL,NULL,0,NULL,2,2,NULL,'event','stones_changed',2);
CREATE TABLE exclusion (
	seq INTEGER NOT NULL, 
	scope TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "exclusion" VALUES(1,'{"reading": "32f29f33d511:3:value"}','burr on the edge',NULL,NULL,NULL,NULL,NULL,4);
CREATE TABLE file (
	id INTEGER NOT NULL, 
	sha256 TEXT NOT NULL, 
	name TEXT NOT NULL, 
	status TEXT NOT NULL, 
	kind TEXT, 
	rows INTEGER NOT NULL, 
	kept INTEGER NOT NULL, 
	held INTEGER NOT NULL, 
	already_kept INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (sha256), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "file" VALUES(1,'32f29f33d51165a6808e62cc3dfe85d090bc7521591fa6b6f829f061402704dc','a.csv','kept','readings',6,6,0,0,1);
INSERT INTO "file" VALUES(2,'1e7ad5577b6478895d31e1f909c9a1918ac0efa19249768ab0032b5cf90272fa','records.csv','kept','specs',7,7,0,0,2);
INSERT INTO "file" VALUES(3,'010326a323b77cee3ebf1a3480107ef1110620ec86521d1fb8c21995520e0e24','b.csv','held','readings',2,0,2,0,3);
CREATE TABLE finding (
	id INTEGER NOT NULL, 
	file_id INTEGER, 
	severity TEXT NOT NULL, 
	code TEXT NOT NULL, 
	cells TEXT NOT NULL, 
	count INTEGER NOT NULL, 
	saw TEXT, 
	doubt TEXT, 
	proposal TEXT, 
	effect TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "finding" VALUES(1,3,'stop','far_from_target','[[3, "value", "9.3", null]]',1,'9.3','far off','93','one bore',3);
CREATE TABLE gauge (
	seq INTEGER NOT NULL, 
	gauge TEXT NOT NULL, 
	kind TEXT, 
	resolution INTEGER, 
	standard_uncertainty INTEGER, 
	common_part INTEGER, 
	unit TEXT, 
	calibrated_on INTEGER, 
	due_on INTEGER, 
	master TEXT, 
	value INTEGER, 
	correction INTEGER, 
	certificate TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "gauge" VALUES(1,'bg-1',NULL,100000,NULL,NULL,'um',NULL,NULL,NULL,NULL,NULL,NULL,2,NULL,NULL,NULL,NULL,2);
CREATE TABLE held (
	id INTEGER NOT NULL, 
	finding_id INTEGER NOT NULL, 
	file_id INTEGER, 
	sheet TEXT, 
	"row" INTEGER NOT NULL, 
	readings INTEGER NOT NULL, 
	fields TEXT NOT NULL, 
	record TEXT, 
	machine TEXT, 
	operation TEXT, 
	characteristic TEXT, 
	method TEXT, 
	state TEXT, 
	build TEXT, 
	place BLOB, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(finding_id) REFERENCES finding (id), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "held" VALUES(1,1,3,NULL,3,1,'[["machine", "hone-2"], ["value", "9.3"]]','{"noun": "Reading", "source": {"sha256": "010326a323b77cee3ebf1a3480107ef1110620ec86521d1fb8c21995520e0e24", "row": 3, "column": "value", "text": "93.0", "sheet": null}, "machine": "hone-2", "operation": "finish_bore", "characteristic": "bore_diameter", "method": "two-point", "state": "plate_on", "feature": "cyl-2", "value": 9300000003, "unit": "mm", "measured_at": 1780000000000003, "made_at": 1780000000000003, "build": "K-17", "engine": null, "serial": null, "relative": false, "target": null, "lower": null, "upper": null, "station": null, "clock": null, "trial": 1, "pass_": null, "order": null, "made_is_date": false, "gauge": null, "operator": null, "sized_with": null, "master": null, "torque": null, "material": null, "part_c": null, "gauge_c": null, "note": null}','hone-2','finish_bore','bore_diameter','two-point','plate_on','K-17',X'B7B29670947251703A89D26AA308FCD1',3);
INSERT INTO "held" VALUES(2,1,3,NULL,4,1,'[["machine", "hone-2"], ["value", "9.3"]]','{"noun": "Reading", "source": {"sha256": "010326a323b77cee3ebf1a3480107ef1110620ec86521d1fb8c21995520e0e24", "row": 4, "column": "value", "text": "93.0", "sheet": null}, "machine": "hone-2", "operation": "finish_bore", "characteristic": "bore_diameter", "method": "two-point", "state": "plate_on", "feature": "cyl-3", "value": 9300000004, "unit": "mm", "measured_at": 1780000000000004, "made_at": 1780000000000004, "build": "K-17", "engine": null, "serial": null, "relative": false, "target": null, "lower": null, "upper": null, "station": null, "clock": null, "trial": 1, "pass_": null, "order": null, "made_is_date": false, "gauge": null, "operator": null, "sized_with": null, "master": null, "torque": null, "material": null, "part_c": null, "gauge_c": null, "note": null}','hone-2','finish_bore','bore_diameter','two-point','plate_on','K-17',X'01FF1AA19F5C9FDC9F0902881BA5F49A',3);
CREATE TABLE kept (
	question TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	digest TEXT, 
	value TEXT, 
	PRIMARY KEY (question, subject)
);
CREATE TABLE machine (
	seq INTEGER NOT NULL, 
	machine TEXT NOT NULL, 
	kind TEXT, 
	since INTEGER, 
	note TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "machine" VALUES(1,'hone-2','hone',NULL,NULL,2,NULL,NULL,NULL,NULL,2);
CREATE TABLE matter (
	seq INTEGER NOT NULL, 
	matter TEXT NOT NULL, 
	act TEXT NOT NULL, 
	at INTEGER, 
	initials TEXT, 
	said TEXT, 
	told TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "matter" VALUES(1,'M-1','taken_up',1780000000000000,'RB','dress',NULL,NULL,NULL,NULL,NULL,NULL,2);
CREATE TABLE meta (
	name TEXT NOT NULL, 
	value TEXT, 
	PRIMARY KEY (name)
);
INSERT INTO "meta" VALUES('schema','3');
CREATE TABLE notice (
	seq INTEGER NOT NULL, 
	matter TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	recipient TEXT NOT NULL, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "notice" VALUES(1,'M-1','opened','owner@shop.example',NULL,NULL,NULL,NULL,NULL,2);
CREATE TABLE "plan" (
	seq INTEGER NOT NULL, 
	characteristic TEXT NOT NULL, 
	engine TEXT, 
	feature TEXT, 
	station INTEGER, 
	clock INTEGER, 
	state TEXT, 
	since INTEGER, 
	issue TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "plan" VALUES(1,'bore_diameter',NULL,NULL,1000000000,NULL,NULL,NULL,NULL,2,NULL,NULL,NULL,NULL,2);
CREATE TABLE position (
	id INTEGER NOT NULL, 
	feature TEXT NOT NULL, 
	station INTEGER, 
	clock INTEGER, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "position" VALUES(1,'cyl-1',NULL,NULL,1);
INSERT INTO "position" VALUES(2,'cyl-2',NULL,NULL,1);
INSERT INTO "position" VALUES(3,'cyl-3',NULL,NULL,1);
INSERT INTO "position" VALUES(4,'cyl-4',NULL,NULL,1);
INSERT INTO "position" VALUES(5,'cyl-5',NULL,NULL,1);
INSERT INTO "position" VALUES(6,'cyl-6',NULL,NULL,1);
CREATE TABLE reaction (
	seq INTEGER NOT NULL, 
	characteristic TEXT NOT NULL, 
	machine TEXT, 
	operation TEXT, 
	does TEXT, 
	tells TEXT, 
	remeasures TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "reaction" VALUES(1,'bore_taper',NULL,NULL,'dress the stones',NULL,NULL,NULL,NULL,NULL,NULL,NULL,2);
CREATE TABLE reading (
	series_id INTEGER NOT NULL, 
	arrival INTEGER NOT NULL, 
	context_id INTEGER NOT NULL, 
	position_id INTEGER NOT NULL, 
	"row" INTEGER NOT NULL, 
	correction INTEGER NOT NULL, 
	version INTEGER NOT NULL, 
	trial INTEGER NOT NULL, 
	pass INTEGER, 
	"order" INTEGER, 
	value INTEGER NOT NULL, 
	target INTEGER, 
	lower INTEGER, 
	upper INTEGER, 
	measured_at INTEGER NOT NULL, 
	made_at INTEGER NOT NULL, 
	place BLOB NOT NULL, 
	text TEXT NOT NULL, 
	PRIMARY KEY (series_id, arrival), 
	CONSTRAINT reading_place UNIQUE (series_id, place, version), 
	FOREIGN KEY(series_id) REFERENCES series (id), 
	FOREIGN KEY(context_id) REFERENCES context (id), 
	FOREIGN KEY(position_id) REFERENCES position (id)
)
 WITHOUT ROWID

;
INSERT INTO "reading" VALUES(1,1,1,1,2,0,1,1,NULL,NULL,9300000002,NULL,NULL,NULL,1780000000000002,1780000000000002,X'E68C9EABD12FFA8F4CFE72BAE05A4F7B','93.0');
INSERT INTO "reading" VALUES(1,2,1,2,3,0,1,1,NULL,NULL,9300000003,NULL,NULL,NULL,1780000000000003,1780000000000003,X'B7B29670947251703A89D26AA308FCD1','93.0');
INSERT INTO "reading" VALUES(1,3,1,3,4,0,1,1,NULL,NULL,9300000004,NULL,NULL,NULL,1780000000000004,1780000000000004,X'01FF1AA19F5C9FDC9F0902881BA5F49A','93.0');
INSERT INTO "reading" VALUES(1,4,1,4,5,0,1,1,NULL,NULL,9300000005,NULL,NULL,NULL,1780000000000005,1780000000000005,X'34B6672CF0EA5CCE26BDF20A7A8C6C2F','93.0');
INSERT INTO "reading" VALUES(1,5,1,5,6,0,1,1,NULL,NULL,9300000006,NULL,NULL,NULL,1780000000000006,1780000000000006,X'9F12BB95FD212B332635D40F1DE63DF1','93.0');
INSERT INTO "reading" VALUES(1,6,1,6,7,0,1,1,NULL,NULL,9300000007,NULL,NULL,NULL,1780000000000007,1780000000000007,X'2133972C06EA8305E1CCF5C29C9EE332','93.0');
CREATE TABLE revision (
	number INTEGER NOT NULL, 
	at INTEGER NOT NULL, 
	"by" TEXT NOT NULL, 
	command TEXT NOT NULL, 
	reason TEXT, 
	PRIMARY KEY (number)
);
INSERT INTO "revision" VALUES(1,1795630619592075,'ann','ingest',NULL);
INSERT INTO "revision" VALUES(2,1795630619721139,'bea','shop','set up');
INSERT INTO "revision" VALUES(3,1795630619767720,'ann','ingest',NULL);
INSERT INTO "revision" VALUES(4,1795630619775636,'ann','held','misread');
CREATE TABLE series (
	id INTEGER NOT NULL, 
	machine TEXT NOT NULL, 
	operation TEXT NOT NULL, 
	characteristic TEXT NOT NULL, 
	method TEXT NOT NULL, 
	state TEXT NOT NULL, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (machine, operation, characteristic, method, state), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "series" VALUES(1,'hone-2','finish_bore','bore_diameter','two-point','plate_on',1);
CREATE TABLE series_summary (
	series_id INTEGER NOT NULL, 
	readings INTEGER NOT NULL, 
	last_arrival INTEGER NOT NULL, 
	last_revision INTEGER NOT NULL, 
	first_at INTEGER, 
	last_at INTEGER, 
	PRIMARY KEY (series_id), 
	FOREIGN KEY(series_id) REFERENCES series (id)
);
INSERT INTO "series_summary" VALUES(1,5,6,4,1780000000000003,1780000000000007);
CREATE TABLE set_limit (
	seq INTEGER NOT NULL, 
	machine TEXT NOT NULL, 
	operation TEXT NOT NULL, 
	characteristic TEXT NOT NULL, 
	method TEXT NOT NULL, 
	state TEXT NOT NULL, 
	center REAL, 
	lower REAL, 
	upper REAL, 
	reason TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "set_limit" VALUES(1,'hone-2','finish_bore','bore_diameter','two-point','plate_on',0.5,-2.0,3.0,'learnt',NULL,NULL,NULL,NULL,NULL,2);
CREATE TABLE setting (
	seq INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	value TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "setting" VALUES(1,'zone','UTC',NULL,NULL,NULL,NULL,NULL,2);
CREATE TABLE spec (
	seq INTEGER NOT NULL, 
	characteristic TEXT NOT NULL, 
	reading TEXT NOT NULL, 
	unit TEXT NOT NULL, 
	lower INTEGER, 
	target INTEGER, 
	upper INTEGER, 
	build TEXT, 
	engine TEXT, 
	operation TEXT, 
	feature TEXT, 
	station INTEGER, 
	clock INTEGER, 
	state TEXT, 
	since INTEGER, 
	issue TEXT, 
	said_by TEXT, 
	file_id INTEGER, 
	"row" INTEGER, 
	sheet TEXT, 
	"column" TEXT, 
	text TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (seq), 
	FOREIGN KEY(file_id) REFERENCES file (id), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "spec" VALUES(1,'bore_diameter','deviation','um',-500000,NULL,500000,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,2,NULL,NULL,NULL,NULL,2);
CREATE TABLE void (
	series_id INTEGER NOT NULL, 
	arrival INTEGER NOT NULL, 
	reason TEXT NOT NULL, 
	replaced_by TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (series_id, arrival), 
	FOREIGN KEY(series_id, arrival) REFERENCES reading (series_id, arrival), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "void" VALUES(1,1,'gauge slipped',NULL,4);
CREATE TABLE withdrawal (
	kind TEXT NOT NULL, 
	seq INTEGER NOT NULL, 
	reason TEXT, 
	revision INTEGER NOT NULL, 
	PRIMARY KEY (kind, seq), 
	FOREIGN KEY(revision) REFERENCES revision (number)
);
INSERT INTO "withdrawal" VALUES('spec',1,'superseded',4);
CREATE INDEX position_feature ON position (feature);
CREATE INDEX context_file ON context (file_id);
CREATE INDEX context_gauge ON context (gauge);
CREATE INDEX context_build ON context (build);
CREATE INDEX context_revision ON context (revision);
CREATE INDEX finding_file ON finding (file_id);
CREATE INDEX reading_row ON reading (context_id, "row");
CREATE INDEX held_place ON held (place);
CREATE INDEX held_finding ON held (finding_id);
CREATE INDEX decision_finding ON decision (finding_id);
CREATE TRIGGER revision_no_update BEFORE UPDATE ON revision BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER revision_no_delete BEFORE DELETE ON revision BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER file_no_update BEFORE UPDATE ON file BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER file_no_delete BEFORE DELETE ON file BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER position_no_update BEFORE UPDATE ON position BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER position_no_delete BEFORE DELETE ON position BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER series_no_update BEFORE UPDATE ON series BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER series_no_delete BEFORE DELETE ON series BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER withdrawal_no_update BEFORE UPDATE ON withdrawal BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER withdrawal_no_delete BEFORE DELETE ON withdrawal BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER build_no_update BEFORE UPDATE ON build BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER build_no_delete BEFORE DELETE ON build BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER choice_no_update BEFORE UPDATE ON choice BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER choice_no_delete BEFORE DELETE ON choice BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER content_no_update BEFORE UPDATE ON content BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER content_no_delete BEFORE DELETE ON content BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER context_no_update BEFORE UPDATE ON context BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER context_no_delete BEFORE DELETE ON context BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER event_no_update BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER event_no_delete BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER exclusion_no_update BEFORE UPDATE ON exclusion BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER exclusion_no_delete BEFORE DELETE ON exclusion BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER finding_no_update BEFORE UPDATE ON finding BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER finding_no_delete BEFORE DELETE ON finding BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER gauge_no_update BEFORE UPDATE ON gauge BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER gauge_no_delete BEFORE DELETE ON gauge BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER machine_no_update BEFORE UPDATE ON machine BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER machine_no_delete BEFORE DELETE ON machine BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER matter_no_update BEFORE UPDATE ON matter BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER matter_no_delete BEFORE DELETE ON matter BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER notice_no_update BEFORE UPDATE ON notice BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER notice_no_delete BEFORE DELETE ON notice BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER plan_no_update BEFORE UPDATE ON plan BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER plan_no_delete BEFORE DELETE ON plan BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER reaction_no_update BEFORE UPDATE ON reaction BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER reaction_no_delete BEFORE DELETE ON reaction BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER set_limit_no_update BEFORE UPDATE ON set_limit BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER set_limit_no_delete BEFORE DELETE ON set_limit BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER setting_no_update BEFORE UPDATE ON setting BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER setting_no_delete BEFORE DELETE ON setting BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER spec_no_update BEFORE UPDATE ON spec BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER spec_no_delete BEFORE DELETE ON spec BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER decision_no_update BEFORE UPDATE ON decision BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER decision_no_delete BEFORE DELETE ON decision BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER held_no_update BEFORE UPDATE ON held BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER held_no_delete BEFORE DELETE ON held BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER reading_no_update BEFORE UPDATE ON reading BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER reading_no_delete BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER decided_no_update BEFORE UPDATE ON decided BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER decided_no_delete BEFORE DELETE ON decided BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER void_no_update BEFORE UPDATE ON void BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
CREATE TRIGGER void_no_delete BEFORE DELETE ON void BEGIN SELECT RAISE(ABORT, 'what is recorded is never changed or deleted: add a row that supersedes it'); END;
COMMIT;
