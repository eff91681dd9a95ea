PRAGMA application_id = 1970039911;
BEGIN TRANSACTION;
CREATE TABLE answer (
        id TEXT NOT NULL,
        job_id TEXT NOT NULL,
        "of" TEXT NOT NULL,
        made_at TEXT NOT NULL,
        code TEXT NOT NULL,
        seed INTEGER NOT NULL,
        inputs TEXT NOT NULL,
        fingerprint TEXT NOT NULL,
        body TEXT NOT NULL,
        PRIMARY KEY (id),
        FOREIGN KEY(job_id) REFERENCES job (id)
    );
INSERT INTO "answer" VALUES('job1-due','job1','due','2026-05-04T08:00:12.000000+00:00','test',0,'{"circuit":{"format":"ullage-circuit/1","name":"Mobile library van, four-corner parking leveller","reservoir":{"full_l":{"best":2.8,"spread_pct":4},"minimum_l":{"best":1.0,"spread_pct":15},"brim_l":{"best":3.45,"spread_pct":3},"heel_l":{"best":0.2,"spread_pct":30},"area_cm2":{"best":210,"spread_pct":8},"start_l":{"best":2.7,"spread_pct":5},"mark":"charged","mark_degc":20},"pump":{"kind":"fixed","displacement_ml_rev":{"best":14,"spread_pct":3},"efficiency_pct":{"best":88,"low":60,"high":95},"speed_ratio":1.0,"idle_rev_min":750},"line":[{"id":"suction","od_mm":{"best":33,"spread_pct":2},"wall_mm":{"best":4,"spread_pct":25},"length_m":{"best":0.9,"spread_pct":10}},{"id":"supply","od_mm":{"best":15,"spread_pct":2},"wall_mm":{"best":1.5,"spread_pct":20},"length_m":{"best":4.2,"spread_pct":40},"fittings":2},{"id":"return","od_mm":{"best":22,"spread_pct":2},"wall_mm":{"best":1.5,"spread_pct":20},"length_m":{"best":8.0,"spread_pct":40},"fittings":3},{"id":"last-hose","od_mm":{"best":30,"spread_pct":2},"wall_mm":{"best":4,"spread_pct":25},"length_m":{"best":0.6,"spread_pct":10}}],"node":[{"id":"pump-body","volume_l":{"best":0.15,"spread_pct":50}},{"id":"valve-block","volume_l":{"best":0.6,"spread_pct":50}},{"id":"cooler","volume_l":{"best":1.2,"spread_pct":50}},{"id":"filter","volume_l":{"best":0.55,"spread_pct":15},"element":true,"element_l":{"best":0.09,"spread_pct":50},"beta":{"um":10,"ratio":75},"clean_dp_bar":{"bar":0.2,"at_l_min":10,"at_mm2_s":30},"bypass_bar":1.7}],"path":[{"id":"main","through":["suction","pump-body","supply","valve-block","return","cooler","filter","last-hose"],"share_pct":100,"divert_after":"last-hose","drains_l_min":{"best":0.1,"low":0.0,"high":0.3}}],"leg":[{"id":"front-left","group":"front","at":"valve-block","line":{"bore_mm":{"best":8,"spread_pct":5,"as":"leg bore"},"length_m":{"best":3.2,"spread_pct":40,"as":"leg length"},"fittings":1},"stroke_l":{"best":0.5,"spread_pct":25,"as":"strut stroke"},"dead_l":{"best":0.16,"spread_pct":50,"as":"strut dead"},"start_pct":{"best":50,"low":35,"high":65},"bleed":true,"gas":{"volume_l":{"best":0.45,"spread_pct":10,"as":"gas volume"},"precharge_bar":60,"working_bar":120},"held_by":"pilot","opens_with":"lowering lever, with the engine on"},{"id":"front-right","group":"front","at":"valve-block","line":{"bore_mm":{"best":8,"spread_pct":5,"as":"leg bore"},"length_m":{"best":4.1,"spread_pct":40,"as":"leg length"},"fittings":1},"stroke_l":{"best":0.5,"spread_pct":25,"as":"strut stroke"},"dead_l":{"best":0.16,"spread_pct":50,"as":"strut dead"},"start_pct":{"best":50,"low":35,"high":65},"bleed":true,"gas":{"volume_l":{"best":0.45,"spread_pct":10,"as":"gas volume"},"precharge_bar":60,"working_bar":120},"held_by":"pilot","opens_with":"lowering lever, with the engine on"},{"id":"rear-left","group":"rear","at":"valve-block","line":{"bore_mm":{"best":10,"spread_pct":5,"as":"leg bore"},"length_m":{"best":7.0,"spread_pct":40,"as":"leg length"},"fittings":2},"stroke_l":{"best":0.62,"spread_pct":25,"as":"strut stroke"},"dead_l":{"best":0.22,"spread_pct":50,"as":"strut dead"},"start_pct":{"best":50,"low":35,"high":65},"bleed":true,"gas":{"volume_l":{"best":0.65,"spread_pct":10,"as":"gas volume"},"precharge_bar":60,"working_bar":120},"held_by":"pilot","opens_with":"lowering lever, with the engine on"},{"id":"rear-right","group":"rear","at":"valve-block","line":{"bore_mm":{"best":10,"spread_pct":5,"as":"leg bore"},"length_m":{"best":7.4,"spread_pct":40,"as":"leg length"},"fittings":2},"stroke_l":{"best":0.62,"spread_pct":25,"as":"strut stroke"},"dead_l":{"best":0.22,"spread_pct":50,"as":"strut dead"},"start_pct":{"best":50,"low":35,"high":65},"bleed":true,"gas":{"volume_l":{"best":0.65,"spread_pct":10,"as":"gas volume"},"precharge_bar":60,"working_bar":120},"held_by":"pilot","opens_with":"lowering lever, with the engine on"}],"fluid":{"nu40_mm2_s":20.5,"nu100_mm2_s":4.6,"rho15_kg_m3":869,"class":"HV","particles_per_ml":[9000,2400,180],"water_mg_kg":210,"acid_mgkoh_g":0.9},"new_fluid":{"nu40_mm2_s":22.0,"nu100_mm2_s":5.0,"rho15_kg_m3":868,"class":"HV","particles_per_ml":[2500,700,60],"water_mg_kg":60},"limits":{"coldest_start_degc":-15,"hottest_degc":80,"nu_start_max_mm2_s":1000,"nu_run_min_mm2_s":8,"inlet_min_bara":0.8,"target_code":"18/16/13","seals":["NBR"]},"heat":{"ambient_degc":15,"ua_w_k":{"best":14,"spread_pct":40},"heat_capacity_j_k":{"best":65000,"spread_pct":30},"pump_bar":60}},"target_pct":10.0}','40c7b97fc7a2017c030b10e3f0a3e403916d0df6843bd6d2978db5773494ee6f','{"answer":"due"}');
CREATE TABLE circuit_version (
        id TEXT NOT NULL,
        circuit_id TEXT NOT NULL,
        machine_id TEXT NOT NULL,
        number INTEGER NOT NULL,
        name TEXT NOT NULL,
        body TEXT NOT NULL,
        saved_at TEXT NOT NULL,
        PRIMARY KEY (id),
        UNIQUE (circuit_id, number),
        FOREIGN KEY(machine_id) REFERENCES machine (id)
    );
INSERT INTO "circuit_version" VALUES('leveller-1','leveller','van2',1,'Four-corner leveller','{"format":"ullage-circuit/1","name":"Mobile library van, four-corner parking leveller","reservoir":{"full_l":{"best":2.8,"spread_pct":4},"minimum_l":{"best":1.0,"spread_pct":15},"brim_l":{"best":3.45,"spread_pct":3},"heel_l":{"best":0.2,"spread_pct":30},"area_cm2":{"best":210,"spread_pct":8},"start_l":{"best":2.7,"spread_pct":5},"mark":"charged","mark_degc":20},"pump":{"kind":"fixed","displacement_ml_rev":{"best":14,"spread_pct":3},"efficiency_pct":{"best":88,"low":60,"high":95},"speed_ratio":1.0,"idle_rev_min":750},"line":[{"id":"suction","od_mm":{"best":33,"spread_pct":2},"wall_mm":{"best":4,"spread_pct":25},"length_m":{"best":0.9,"spread_pct":10}},{"id":"supply","od_mm":{"best":15,"spread_pct":2},"wall_mm":{"best":1.5,"spread_pct":20},"length_m":{"best":4.2,"spread_pct":40},"fittings":2},{"id":"return","od_mm":{"best":22,"spread_pct":2},"wall_mm":{"best":1.5,"spread_pct":20},"length_m":{"best":8.0,"spread_pct":40},"fittings":3},{"id":"last-hose","od_mm":{"best":30,"spread_pct":2},"wall_mm":{"best":4,"spread_pct":25},"length_m":{"best":0.6,"spread_pct":10}}],"node":[{"id":"pump-body","volume_l":{"best":0.15,"spread_pct":50}},{"id":"valve-block","volume_l":{"best":0.6,"spread_pct":50}},{"id":"cooler","volume_l":{"best":1.2,"spread_pct":50}},{"id":"filter","volume_l":{"best":0.55,"spread_pct":15},"element":true,"element_l":{"best":0.09,"spread_pct":50},"beta":{"um":10,"ratio":75},"clean_dp_bar":{"bar":0.2,"at_l_min":10,"at_mm2_s":30},"bypass_bar":1.7}],"path":[{"id":"main","through":["suction","pump-body","supply","valve-block","return","cooler","filter","last-hose"],"share_pct":100,"divert_after":"last-hose","drains_l_min":{"best":0.1,"low":0.0,"high":0.3}}],"leg":[{"id":"front-left","group":"front","at":"valve-block","line":{"bore_mm":{"best":8,"spread_pct":5,"as":"leg bore"},"length_m":{"best":3.2,"spread_pct":40,"as":"leg length"},"fittings":1},"stroke_l":{"best":0.5,"spread_pct":25,"as":"strut stroke"},"dead_l":{"best":0.16,"spread_pct":50,"as":"strut dead"},"start_pct":{"best":50,"low":35,"high":65},"bleed":true,"gas":{"volume_l":{"best":0.45,"spread_pct":10,"as":"gas volume"},"precharge_bar":60,"working_bar":120},"held_by":"pilot","opens_with":"lowering lever, with the engine on"},{"id":"front-right","group":"front","at":"valve-block","line":{"bore_mm":{"best":8,"spread_pct":5,"as":"leg bore"},"length_m":{"best":4.1,"spread_pct":40,"as":"leg length"},"fittings":1},"stroke_l":{"best":0.5,"spread_pct":25,"as":"strut stroke"},"dead_l":{"best":0.16,"spread_pct":50,"as":"strut dead"},"start_pct":{"best":50,"low":35,"high":65},"bleed":true,"gas":{"volume_l":{"best":0.45,"spread_pct":10,"as":"gas volume"},"precharge_bar":60,"working_bar":120},"held_by":"pilot","opens_with":"lowering lever, with the engine on"},{"id":"rear-left","group":"rear","at":"valve-block","line":{"bore_mm":{"best":10,"spread_pct":5,"as":"leg bore"},"length_m":{"best":7.0,"spread_pct":40,"as":"leg length"},"fittings":2},"stroke_l":{"best":0.62,"spread_pct":25,"as":"strut stroke"},"dead_l":{"best":0.22,"spread_pct":50,"as":"strut dead"},"start_pct":{"best":50,"low":35,"high":65},"bleed":true,"gas":{"volume_l":{"best":0.65,"spread_pct":10,"as":"gas volume"},"precharge_bar":60,"working_bar":120},"held_by":"pilot","opens_with":"lowering lever, with the engine on"},{"id":"rear-right","group":"rear","at":"valve-block","line":{"bore_mm":{"best":10,"spread_pct":5,"as":"leg bore"},"length_m":{"best":7.4,"spread_pct":40,"as":"leg length"},"fittings":2},"stroke_l":{"best":0.62,"spread_pct":25,"as":"strut stroke"},"dead_l":{"best":0.22,"spread_pct":50,"as":"strut dead"},"start_pct":{"best":50,"low":35,"high":65},"bleed":true,"gas":{"volume_l":{"best":0.65,"spread_pct":10,"as":"gas volume"},"precharge_bar":60,"working_bar":120},"held_by":"pilot","opens_with":"lowering lever, with the engine on"}],"fluid":{"nu40_mm2_s":20.5,"nu100_mm2_s":4.6,"rho15_kg_m3":869,"class":"HV","particles_per_ml":[9000,2400,180],"water_mg_kg":210,"acid_mgkoh_g":0.9},"new_fluid":{"nu40_mm2_s":22.0,"nu100_mm2_s":5.0,"rho15_kg_m3":868,"class":"HV","particles_per_ml":[2500,700,60],"water_mg_kg":60},"limits":{"coldest_start_degc":-15,"hottest_degc":80,"nu_start_max_mm2_s":1000,"nu_run_min_mm2_s":8,"inlet_min_bara":0.8,"target_code":"18/16/13","seals":["NBR"]},"heat":{"ambient_degc":15,"ua_w_k":{"best":14,"spread_pct":40},"heat_capacity_j_k":{"best":65000,"spread_pct":30},"pump_bar":60}}','2026-05-04T08:00:02.000000+00:00');
CREATE TABLE counter_reading (
        id INTEGER NOT NULL,
        machine_id TEXT NOT NULL,
        job_id TEXT,
        read_at TEXT NOT NULL,
        distance_m FLOAT,
        running_s FLOAT,
        PRIMARY KEY (id),
        FOREIGN KEY(machine_id) REFERENCES machine (id),
        FOREIGN KEY(job_id) REFERENCES job (id)
    );
INSERT INTO "counter_reading" VALUES(1,'van2','job1','2026-05-04T08:00:11.000000+00:00',84000000.0,NULL);
CREATE TABLE device (
        id TEXT NOT NULL,
        name TEXT NOT NULL,
        paired_at TEXT NOT NULL,
        seen_at TEXT NOT NULL,
        revoked_at TEXT,
        PRIMARY KEY (id)
    );
INSERT INTO "device" VALUES('phone','Bay phone','2026-05-04T08:00:13.000000+00:00','2026-05-04T08:00:13.000000+00:00',NULL);
CREATE TABLE event (
        job_id TEXT NOT NULL,
        seq INTEGER NOT NULL,
        uid TEXT NOT NULL,
        device TEXT NOT NULL,
        device_seq INTEGER NOT NULL,
        kind TEXT NOT NULL,
        device_at TEXT NOT NULL,
        server_at TEXT NOT NULL,
        payload TEXT NOT NULL,
        PRIMARY KEY (job_id, seq),
        FOREIGN KEY(job_id) REFERENCES job (id),
        UNIQUE (uid)
    );
INSERT INTO "event" VALUES('job1',1,'id0001','desk',0,'as-found','2026-05-04T08:00:04.000000+00:00','2026-05-04T08:00:05.000000+00:00','{"level_mm":-6.0,"state":"charged","leaks":"none seen"}');
INSERT INTO "event" VALUES('job1',2,'id0002','desk',0,'use','2026-05-04T08:00:06.000000+00:00','2026-05-04T08:00:07.000000+00:00','{"distance_km":84000.0,"since_km":61000.0}');
INSERT INTO "event" VALUES('job1',3,'id0003','desk',0,'photo','2026-05-04T08:00:09.000000+00:00','2026-05-04T08:00:10.000000+00:00','{"sha256":"e6b2ee0598db1bd3c5b5823573955e97565ae6f9b242afbf5c30a5116f4d7356","name":"reservoir.jpg"}');
CREATE TABLE job (
        id TEXT NOT NULL,
        machine_id TEXT NOT NULL,
        circuit_id TEXT NOT NULL,
        circuit_version_id TEXT NOT NULL,
        title TEXT NOT NULL,
        opened_at TEXT NOT NULL,
        PRIMARY KEY (id),
        FOREIGN KEY(machine_id) REFERENCES machine (id),
        FOREIGN KEY(circuit_version_id) REFERENCES circuit_version (id)
    );
INSERT INTO "job" VALUES('job1','van2','leveller','leveller-1','Leveller exchange','2026-05-04T08:00:03.000000+00:00');
CREATE TABLE job_line (
        job_id TEXT NOT NULL,
        machine_id TEXT NOT NULL,
        title TEXT NOT NULL,
        folded TEXT NOT NULL,
        stage TEXT,
        next_sentence TEXT NOT NULL,
        next_who TEXT NOT NULL,
        rank INTEGER NOT NULL,
        is_open INTEGER NOT NULL,
        opened_at TEXT NOT NULL,
        touched_at TEXT NOT NULL,
        PRIMARY KEY (job_id),
        FOREIGN KEY(job_id) REFERENCES job (id),
        FOREIGN KEY(machine_id) REFERENCES machine (id)
    );
INSERT INTO "job_line" VALUES('job1','van2','Leveller exchange','leveller exchange
library van 2','assess','Judge whether the exchange is due.','at the desk',6,1,'2026-05-04T08:00:03.000000+00:00','2026-05-04T08:00:10.000000+00:00');
CREATE TABLE lot (
        id TEXT NOT NULL,
        sheet_id TEXT NOT NULL,
        mark TEXT NOT NULL,
        container_m3 FLOAT,
        expires_on TEXT,
        received_on TEXT NOT NULL,
        PRIMARY KEY (id),
        FOREIGN KEY(sheet_id) REFERENCES sheet (id)
    );
INSERT INTO "lot" VALUES('lot1','fluid','L1',0.001,'2028-01-01','2026-01-01');
CREATE TABLE machine (
        id TEXT NOT NULL,
        name TEXT NOT NULL,
        name_folded TEXT NOT NULL,
        folded TEXT NOT NULL,
        marks TEXT NOT NULL,
        counter TEXT NOT NULL,
        version INTEGER NOT NULL,
        added_at TEXT NOT NULL,
        PRIMARY KEY (id),
        UNIQUE (name_folded)
    );
INSERT INTO "machine" VALUES('van2','Library van 2','library van 2','library van 2
green stripe','green stripe','distance',1,'2026-05-04T08:00:01.000000+00:00');
CREATE TABLE migration (
        number INTEGER NOT NULL,
        name TEXT NOT NULL,
        code TEXT NOT NULL,
        done_at TEXT NOT NULL,
        PRIMARY KEY (number)
    );
INSERT INTO "migration" VALUES(1,'first tables','0.1.0','2026-11-25T15:28:04.234810+00:00');
CREATE TABLE movement (
        uid TEXT NOT NULL,
        lot_id TEXT NOT NULL,
        count FLOAT NOT NULL,
        why TEXT NOT NULL,
        moved_at TEXT NOT NULL,
        job_id TEXT,
        PRIMARY KEY (uid),
        FOREIGN KEY(lot_id) REFERENCES lot (id),
        FOREIGN KEY(job_id) REFERENCES job (id)
    );
INSERT INTO "movement" VALUES('in1','lot1',6.0,'delivered','2026-05-04T08:00:13.000000+00:00',NULL);
INSERT INTO "movement" VALUES('out1','lot1',-2.5,'used','2026-05-04T08:00:13.000000+00:00','job1');
CREATE TABLE picture (
        sha256 TEXT NOT NULL,
        media_type TEXT NOT NULL,
        size INTEGER NOT NULL,
        width INTEGER NOT NULL,
        height INTEGER NOT NULL,
        kept_at TEXT NOT NULL,
        PRIMARY KEY (sha256)
    );
INSERT INTO "picture" VALUES('e6b2ee0598db1bd3c5b5823573955e97565ae6f9b242afbf5c30a5116f4d7356','image/jpeg',653,40,30,'2026-05-04T08:00:08.000000+00:00');
CREATE TABLE setting (
        "key" TEXT NOT NULL,
        value TEXT NOT NULL,
        PRIMARY KEY ("key")
    );
INSERT INTO "setting" VALUES('units.volume','us_qt');
CREATE TABLE sheet (
        id TEXT NOT NULL,
        "of" TEXT NOT NULL,
        name TEXT NOT NULL,
        folded TEXT NOT NULL,
        body TEXT NOT NULL,
        version INTEGER NOT NULL,
        saved_at TEXT NOT NULL,
        PRIMARY KEY (id)
    );
INSERT INTO "sheet" VALUES('fluid','fluid','Leveller fluid','leveller fluid','{"class":"HV"}',1,'2026-05-04T08:00:13.000000+00:00');
CREATE INDEX circuit_version_machine ON circuit_version (machine_id)
    ;
CREATE INDEX lot_sheet ON lot (sheet_id)
    ;
CREATE INDEX answer_job ON answer (job_id, "of", made_at)
    ;
CREATE INDEX counter_reading_machine ON counter_reading (machine_id, read_at)
    ;
CREATE INDEX job_line_machine ON job_line (machine_id, is_open, rank, touched_at)
    ;
CREATE INDEX job_line_open ON job_line (is_open, rank, touched_at, job_id)
    ;
CREATE INDEX movement_lot ON movement (lot_id, moved_at)
    ;
CREATE TRIGGER event_no_update BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'event rows are facts: add another one instead'); END;
CREATE TRIGGER event_no_delete BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'event rows are facts: add another one instead'); END;
CREATE TRIGGER answer_no_update BEFORE UPDATE ON answer BEGIN SELECT RAISE(ABORT, 'answer rows are facts: add another one instead'); END;
CREATE TRIGGER answer_no_delete BEFORE DELETE ON answer BEGIN SELECT RAISE(ABORT, 'answer rows are facts: add another one instead'); END;
CREATE TRIGGER circuit_version_no_update BEFORE UPDATE ON circuit_version BEGIN SELECT RAISE(ABORT, 'circuit_version rows are facts: add another one instead'); END;
CREATE TRIGGER circuit_version_no_delete BEFORE DELETE ON circuit_version BEGIN SELECT RAISE(ABORT, 'circuit_version rows are facts: add another one instead'); END;
CREATE TRIGGER movement_no_update BEFORE UPDATE ON movement BEGIN SELECT RAISE(ABORT, 'movement rows are facts: add another one instead'); END;
CREATE TRIGGER movement_no_delete BEFORE DELETE ON movement BEGIN SELECT RAISE(ABORT, 'movement rows are facts: add another one instead'); END;
CREATE TRIGGER counter_reading_no_update BEFORE UPDATE ON counter_reading BEGIN SELECT RAISE(ABORT, 'counter_reading rows are facts: add another one instead'); END;
CREATE TRIGGER counter_reading_no_delete BEFORE DELETE ON counter_reading BEGIN SELECT RAISE(ABORT, 'counter_reading rows are facts: add another one instead'); END;
CREATE TRIGGER migration_no_update BEFORE UPDATE ON migration BEGIN SELECT RAISE(ABORT, 'migration rows are facts: add another one instead'); END;
CREATE TRIGGER migration_no_delete BEFORE DELETE ON migration BEGIN SELECT RAISE(ABORT, 'migration rows are facts: add another one instead'); END;
COMMIT;
